"""Wind, voices and weak low notes: told when they are there; good drives: ``test_on_drives``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from rich.console import Console

from analysis.compare.comparison import compare_drives
from analysis.errors import SizingError
from analysis.find.drone import find_drone
from analysis.find.sound.wide_bands import FRAME_S, band_levels
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import Findings
from analysis.report.answer import todo_sentence
from analysis.size.from_findings import bands_to_cure
from analysis.verdicts import Verdict
from analysis.words.found import found_sentence
from logger.command.tables.find import find_text
from tests.analysis.made_drives import copy_of
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import band, findings
from tests.drives import GeneratedDrive, generate, random_spec
from tests.drives.faults import (
    with_automatic_gain,
    with_clipping,
    with_roll_off,
    with_speech,
)
from tests.roads import drive_on, quiet_climb, random_driver

NEW = {"wind_rumble", "speech", "microphone_roll_off"}


@cache
def made(seed: int, *, wind_db_spl: float | None = None) -> GeneratedDrive:
    spec = random_spec(np.random.default_rng([31, seed]), bands=1, engine=("4", "6", "8")[seed % 3])
    spec = replace(spec, legs=spec.legs[:4])
    if wind_db_spl is not None:
        spec = replace(spec, noise=replace(spec.noise, wind_db_spl=wind_db_spl))
    return generate(spec, seed)


def found(drive: GeneratedDrive) -> Findings:
    return find_drone(drive.drive())


def codes(drive: GeneratedDrive) -> set[str]:
    return {doubt.code for doubt in found(drive).warnings if doubt.may_hide} & NEW


@pytest.mark.parametrize("seed", range(2))
def test_each_fault_is_told_and_no_other(seed: int) -> None:
    assert codes(made(seed, wind_db_spl=122.0)) == {"wind_rumble"}
    assert codes(with_speech(made(seed), level_db_spl=76.0)) == {"speech"}
    assert codes(with_roll_off(made(seed), 130.0)) == {"microphone_roll_off"}


def test_bands_hold_what_lies_in_them() -> None:
    """Tones of mean square one half, on an offset; a Hann line spreads over its neighbours."""
    time_s = np.arange(0.0, 5.0, 1.0 / 4000.0)
    for hz, name in ((15.0, "wind_ms"), (120.0, "engine_ms"), (600.0, "voice_ms")):
        with copy_of(0.3 + np.sin(2.0 * np.pi * hz * time_s)) as copy:
            levels = band_levels(copy)
        assert levels.time_s.size == round(5.0 / FRAME_S)
        for each in ("wind_ms", "engine_ms", "voice_ms"):
            expected = 0.5 if each == name else 0.0
            assert getattr(levels, each) == pytest.approx(expected, abs=0.06), (hz, each)


def test_a_gap_is_no_frame() -> None:
    drive = replace(made(1), sound_gaps_s=((3.0, 8.0),)).drive()
    assert drive.sound is not None
    with WorkingCopy(drive.sound, lambda _: None) as copy:
        time_s = band_levels(copy).time_s
    assert not ((time_s > 3.0) & (time_s < 8.0)).any()


def test_what_would_be_wrong_is_not_shown() -> None:
    good = found(made(1))
    assert good.bands
    assert good.withheld is None
    spoilt = found(with_clipping(made(1), 0.25))
    assert spoilt.bands == ()
    assert spoilt.withheld is not None
    assert "cut off" in spoilt.withheld
    of_bands = {"sweep_too_fast", "few_passes", "one_gear_only"}
    assert not of_bands & {doubt.code for doubt in spoilt.warnings}
    little = found(with_clipping(made(1), 0.8))
    assert little.withheld is None
    assert little.bands


def test_a_held_level_is_never_called_no_drone() -> None:
    levelled = found(with_automatic_gain(made(0)))
    assert "automatic_gain" in {doubt.code for doubt in levelled.warnings}
    assert levelled.bands or levelled.withheld


def test_music_as_loud_as_an_engine_without_a_drone_makes_no_band() -> None:
    """Nine bands were told of it once; it takes 40 s of music, and so a few seconds of time."""
    rng = np.random.default_rng(2)
    spec = quiet_climb(rng)
    driver = random_driver(rng, "sweep", 1200.0, 4000.0)
    driver = replace(driver, legs=driver.legs[:4])
    made_up = replace(spec, music_db=0.0, driver=driver, sample_rate_hz=4000.0)
    heard = find_drone(drive_on(made_up, 2).drive())
    assert "speech" in {doubt.code for doubt in heard.warnings}
    assert heard.bands == ()
    assert heard.withheld is not None
    assert "music" in heard.withheld


WITHHELD = replace(findings(), withheld="the recorder changed its own level all along")


def test_the_answer_says_no_result_and_not_no_drone() -> None:
    assert found_sentence(WITHHELD) == (
        "No result can be given: the recorder changed its own level all along."
    )
    assert todo_sentence(contents(WITHHELD)).endswith("What to do is said below.")
    console = Console(file=io.StringIO(), width=200)
    with console.capture() as shown:
        console.print(find_text(WITHHELD))
    assert "No result can be given: the recorder" in shown.get()


def test_nothing_is_sized_or_judged_from_it() -> None:
    with pytest.raises(SizingError, match="gives no result"):
        bands_to_cure(WITHHELD)
    after = compare_drives(findings(band()), WITHHELD)
    assert {change.verdict for change in after.changes} == {Verdict.CANNOT_TELL}
    assert np.isnan(after.changes[0].level_change_db)
    before = compare_drives(WITHHELD, findings(band()))
    assert "baseline_withheld" in {doubt.code for doubt in before.warnings}


def test_no_level_of_a_held_drive_is_compared() -> None:
    free, held = findings(band()), replace(findings(band()), level_was_held=True)
    for before, after in ((free, held), (held, free)):
        compared = compare_drives(before, after)
        assert {change.verdict for change in compared.changes} == {Verdict.CANNOT_TELL}
        assert np.isnan(compared.changes[0].level_change_db)
        assert compared.new_bands == ()
        assert compared.overall == ()
