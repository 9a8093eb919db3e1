"""Which run is the best so far, and how it is said."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.compare.best_run import all_is_cured, answer, best_run
from analysis.compare.history import History
from analysis.findings import Findings
from tests.analysis.compare.history_examples import (
    BAND,
    BASELINE,
    LEFT,
    PEAK,
    RPM,
    Outing,
    day,
    drive,
    history_of,
    three_runs,
)
from tests.analysis.made_findings import drone_ms, make_band


def history(*later: tuple[str, Findings], baseline: Findings = BASELINE) -> History:
    runs = (("baseline", baseline), *later)
    return history_of(
        *(
            Outing(name=name, found=found, start_time_utc=day(number))
            for number, (name, found) in enumerate(runs, start=1)
        )
    )


def best_name(made: History) -> str | None:
    best = best_run(made)
    return None if best is None else best.name


def test_the_cure_is_the_best_and_all_is_said_in_two_sentences() -> None:
    made = three_runs()
    assert answer(made) == (
        "Best so far: 'trimmed'. The drone at 2,240 rpm is cured, 14 dB quieter than in "
        "'baseline'; nothing new."
    )
    best = best_run(made)
    assert best is not None
    assert all_is_cured(best)
    assert not all_is_cured(made.runs[1])
    assert not all_is_cured(made.runs[0])


def test_a_latest_run_that_is_not_the_best_is_said() -> None:
    made = history(("a", drive(-14.0)), ("b", drive(-6.5, (LEFT,))))
    assert best_name(made) == "a"
    assert answer(made).endswith(
        "nothing new. In 'b', the latest, it is quieter, but not cured (6 dB quieter)."
    )


def test_runs_that_cannot_be_told_apart_are_called_as_good() -> None:
    made = history(("a", drive(-14.0)), ("b", drive(-13.9)))
    assert answer(made).endswith(" is as good, as far as these drives can tell.")


@pytest.mark.parametrize(
    ("change_db", "told"), [(0.0, "is as loud as before."), (6.0, "is louder.")]
)
def test_no_run_is_best_when_none_is_better(change_db: float, told: str) -> None:
    made = history(("a", drive(change_db, (BAND,))))
    assert best_run(made) is None
    assert answer(made) == (
        "No run is better than 'baseline' so far: in 'a', the latest, the drone at 2,240 rpm "
        f"{told}"
    )


def test_a_drone_that_only_moved_is_not_the_best() -> None:
    elsewhere = make_band(3.0, 1.2 * PEAK, level_db=79.0)
    moved = drive(bands=(elsewhere,), order_ms=drone_ms(RPM, 1.2 * PEAK))
    made = history(("moved", moved), ("reduced", drive(-6.5, (LEFT,))))
    assert best_name(made) == "reduced"
    assert "moved" in answer(history(("moved", moved)))


def test_less_recording_gain_does_not_make_a_run_the_best() -> None:
    """Told by the noise between the orders alone, it stays a suspicion."""
    quiet = drive(-13.0, gain_db=-8.0, other_orders=())
    made = history(("cured", drive(-14.0)), ("less gain", quiet))
    assert best_name(made) == "cured"
    assert "'less gain', the latest" in answer(made)
    assert "gain or microphone place seem to differ" in answer(made)
    alone = history(("less gain", quiet))
    best = best_run(alone)
    assert best is not None
    assert not all_is_cured(best)
    assert answer(alone).endswith("seem to differ from the baseline's, so this is not sure.")


def test_a_gain_that_was_taken_off_neither_helps_nor_harms_a_run() -> None:
    made = history(("less gain", drive(-16.0, gain_db=-8.0)), ("cured", drive(-13.0)))
    assert best_name(made) == "less gain"
    assert "gain or microphone place" not in answer(made)
    less = history(("more gain", drive(-13.0, gain_db=8.0)), ("cured", drive(-16.0)))
    assert best_name(less) == "cured"


def test_a_new_drone_as_loud_as_the_old_one_decides() -> None:
    new = make_band(6.0, 1500.0, level_db=79.0)
    made = history(("loud", drive(-16.0, (new,))), ("quiet", drive(-11.5)))
    assert best_name(made) == "quiet"
    alone = history(("loud", drive(-16.0, (new,))))
    assert "but there is a new drone at 1,500 rpm" in answer(alone)
    best = best_run(alone)
    assert best is not None
    assert not all_is_cured(best)


def test_weaker_drones_that_are_left_are_named() -> None:
    weaker = make_band(1.5, 1800.0, level_db=72.0)
    baseline = replace(BASELINE, bands=(BAND, weaker))
    made = history(("a", drive(-14.0, (weaker,))), baseline=baseline)
    assert "; weaker drones: unchanged at 1,800 rpm; nothing new." in answer(made)


def test_a_baseline_without_a_drone_leaves_nothing_to_follow() -> None:
    made = history(("a", drive(-14.0)), baseline=drive())
    assert answer(made) == "Nothing to follow: no drone was found in the baseline, 'baseline'."
    withheld = replace(drive(), withheld="the sound is clipped")
    assert "gives no result, because the sound is clipped" in answer(
        history(("a", drive()), baseline=withheld)
    )


def test_runs_of_another_kind_are_no_better_and_no_worse() -> None:
    made = history(("a", replace(BASELINE, level_unit="dB SPL")))
    assert answer(made).startswith("No run can be compared with 'baseline'")


def test_a_run_that_missed_the_drone_is_never_the_best() -> None:
    made = history(("a", replace(BASELINE, curves=())), ("b", drive(-6.5, (LEFT,))))
    assert best_name(made) == "b"
    assert np.isnan(made.runs[1].comparison.changes[0].level_change_db)  # type: ignore[union-attr]
