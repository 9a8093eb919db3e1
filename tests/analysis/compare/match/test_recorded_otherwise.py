"""Two drives recorded with another gain or at another place, whose true change is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.compare.comparison import compare_drives
from analysis.findings import Findings
from analysis.verdicts import Comparison, Verdict
from tests.analysis.made_findings import amplified_curve
from tests.analysis.made_pairs import BAND, BEFORE_MS, changed, drive

BASELINE = drive(BEFORE_MS, (BAND,))


def against(after: Findings) -> Comparison:
    return compare_drives(BASELINE, after)


def turned(after: Findings, *gains_db: float) -> Findings:
    """Each curve in turn louder by a gain of its own; one gain stands for all."""
    each = gains_db if len(gains_db) > 1 else gains_db * len(after.curves)
    pairs = zip(after.curves, each, strict=True)
    return replace(after, curves=tuple(amplified_curve(*pair) for pair in pairs))


@pytest.mark.parametrize("gain_db", [-9.0, -4.0, 5.0, 12.0])
@pytest.mark.parametrize("true_db", [-14.0, 0.0])
def test_a_gain_that_all_orders_show_is_taken_off(gain_db: float, true_db: float) -> None:
    comparison = against(turned(drive(changed(true_db), seed=2), gain_db))
    (change,) = comparison.changes
    gain = comparison.gain
    assert gain is not None
    assert gain.is_taken_off
    assert gain.gain_db == pytest.approx(gain_db, abs=0.5)
    assert change.level_change_db == pytest.approx(true_db, abs=1.0)
    assert change.ci95_db.low < true_db < change.ci95_db.high
    assert change.verdict is (Verdict.CURED if true_db else Verdict.UNCHANGED)
    (message,) = [d.message for d in comparison.warnings if d.code == "gain_or_place_differs"]
    assert f"{gain.gain_db:+.1f} dB was taken off" in message


def test_every_curve_is_without_the_gain_that_was_taken_off() -> None:
    plain, loud = (against(turned(drive(changed(-14.0), seed=2), db)) for db in (0.0, 10.0))
    for one, other in zip(plain.other_curves, loud.other_curves, strict=True):
        off_db = np.median(other.after_db - one.after_db)
        assert off_db == pytest.approx(0.0, abs=0.5)


def test_a_gain_taken_off_widens_the_interval() -> None:
    plain, loud = (against(turned(drive(changed(-14.0), seed=2), db)) for db in (0.0, 10.0))
    widths = [c.changes[0].ci95_db.high - c.changes[0].ci95_db.low for c in (plain, loud)]
    assert loud.gain is not None
    assert widths[1] > widths[0]
    assert widths[1] > 2.0 * 1.96 * loud.gain.sd_db
    assert loud.changes[0].smallest_change_db > plain.changes[0].smallest_change_db


def test_alike_recordings_have_no_gain() -> None:
    assert against(drive(changed(-14.0), seed=2)).gain is None


def test_orders_that_disagree_take_nothing_off_but_leave_a_suspicion() -> None:
    """What a branch does to other orders in an echoing exhaust is no gain."""
    comparison = against(turned(drive(changed(-4.0), seed=2), 0.0, -9.0, -6.0, 1.0, -3.0))
    (change,) = comparison.changes
    assert comparison.gain is not None
    assert not comparison.gain.is_taken_off
    assert change.level_change_db == pytest.approx(-4.0, abs=0.7)
    assert change.ci95_db.high > -4.0 - comparison.gain.gain_db


def alone(order_ms: FloatArray, background_ms: float, seed: int) -> Findings:
    """Give a drive in which no order but the drone's is clear."""
    made = drive(order_ms, (BAND,), background_ms=background_ms, seed=seed)
    return replace(made, curves=made.curves[:1])


def test_a_gain_that_hides_a_change_from_the_only_order_is_suspected() -> None:
    """Noise 8 dB up is more than a road makes, so as loud as before proves nothing."""
    louder = 10.0**0.8
    comparison = compare_drives(
        alone(BEFORE_MS, 1e-7, 1), alone(changed(-8.0) * louder, 1e-7 * louder, 2)
    )
    assert comparison.changes[0].verdict is Verdict.CANNOT_TELL
    rougher = compare_drives(alone(BEFORE_MS, 1e-7, 1), alone(BEFORE_MS, 1e-7 * 10.0**0.5, 2))
    assert rougher.changes[0].verdict is Verdict.UNCHANGED


def test_drives_without_another_clear_order_say_that_gain_was_not_checked() -> None:
    (doubt,) = compare_drives(alone(BEFORE_MS, 1e-7, 1), alone(BEFORE_MS, 1e-7, 2)).warnings
    assert doubt.code == "gain_not_checked"


def test_where_only_the_noise_shifted_the_interval_takes_in_both_readings() -> None:
    louder = 10.0**0.8
    comparison = compare_drives(
        alone(BEFORE_MS, 1e-7, 1), alone(changed(-11.0) * louder, 1e-7 * louder, 2)
    )
    (change,) = comparison.changes
    assert change.level_change_db == pytest.approx(-3.0, abs=0.7)
    assert change.ci95_db.low < -11.0
    assert change.ci95_db.high > -3.0
    assert change.verdict is Verdict.CANNOT_TELL
    assert "gain or microphone place seems to differ" in change.why


def test_gain_turned_down_is_not_called_a_success() -> None:
    after = drive(changed(-5.0), other_orders_db=-5.0, background_ms=1e-7 * 10.0**-0.5, seed=2)
    comparison = compare_drives(drive(BEFORE_MS, (BAND,)), after)
    assert "gain_or_place_differs" in {doubt.code for doubt in comparison.warnings}
    assert comparison.changes[0].verdict is Verdict.UNCHANGED


def test_gain_is_read_from_the_background_where_no_other_order_is_clear() -> None:
    gain = 10.0**-0.5
    comparison = compare_drives(alone(BEFORE_MS, 1e-7, 1), alone(BEFORE_MS * gain, 1e-7 * gain, 2))
    assert [doubt.code for doubt in comparison.warnings] == ["gain_or_place_differs"]
    assert comparison.changes[0].verdict is Verdict.UNCHANGED


@pytest.mark.parametrize("true_db", [-15.0, 0.0])
def test_a_cure_asks_for_no_other_drive(true_db: float) -> None:
    before = drive(BEFORE_MS, (BAND,), passes=1)
    for gain_db in (0.0, -9.0):  # one suspected from the noise alone, one taken off
        noisy = drive(changed(true_db), background_ms=4e-7, passes=1, seed=2)
        comparison = compare_drives(before, turned(noisy, gain_db))
        told = {each.code: each.message for each in comparison.warnings}
        assert told.keys() >= {"gain_or_place_differs", "few_passes"}
        for code in ("gain_or_place_differs", "few_passes"):
            assert told[code].endswith("The cure holds even so.") is (true_db < 0.0)


def test_road_noise_alone_raises_the_doubt_but_leaves_the_verdict() -> None:
    after = drive(changed(-15.0), background_ms=4e-7, seed=2)
    comparison = compare_drives(drive(BEFORE_MS, (BAND,)), after)
    assert "gain_or_place_differs" in {doubt.code for doubt in comparison.warnings}
    assert comparison.changes[0].verdict is Verdict.CURED
