"""Before and after: at the same engine speeds, and by as much quieter as the drives are."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from analysis.drive import Drive, Engine, Sound
from analysis.findings import EngineSpeed, Findings
from analysis.listen.stretch import RATE_HZ
from analysis.listen.two_drives import BothDrives, Heard, both_drives
from analysis.report.blocks import Clips, Text
from analysis.report.hear import hear_section
from tests.analysis.report.found_examples import band, findings

CARD_HZ = 16_000.0
ORDER = 3.0
LOW_RPM, HIGH_RPM, CLIMB_S = 1500.0, 3000.0, 40.0


def driven(
    before_s: float, amplitude: float, *, climb_s: float = CLIMB_S, rate_hz: float = CARD_HZ
) -> tuple[Drive, Findings]:
    """Idle, then an even climb through the drone, then an even fall; one order, of one loudness."""
    time_s = np.arange(int((before_s + 2.0 * climb_s) * rate_hz)) / rate_hz
    corners = [0.0, before_s, before_s + climb_s, before_s + 2.0 * climb_s]
    rpm = np.interp(time_s, corners, [LOW_RPM, LOW_RPM, HIGH_RPM, LOW_RPM])
    samples = amplitude * np.sin(2.0 * np.pi * ORDER * np.cumsum(rpm / 60.0) / rate_hz)
    step = int(rate_hz / 20)
    speed = EngineSpeed(
        time_s=time_s[::step],
        rpm=rpm[::step],
        sigma_part=np.zeros(rpm[::step].size),
        gear_index=np.zeros(rpm[::step].size),
    )
    drive = Drive(
        name="drive",
        engine=Engine(cylinders=6),
        sound=Sound.from_array(samples, rate_hz),
        telemetry=pd.DataFrame({"time_s": time_s[::step], "rpm": rpm[::step]}),
    )
    return drive, replace(findings(band()), engine_speed=speed)


def heard(
    before: tuple[Drive, Findings], after: tuple[Drive, Findings], gain_db: float = 0.0
) -> BothDrives:
    both = both_drives((before[0], after[0]), (before[1], after[1]), band(), gain_db)
    assert both is not None
    return both


def fell_by_db(both: BothDrives) -> float:
    """From the mean squares, which one tone of even loudness has in any stretch."""
    levels = [np.mean(np.square(each.samples)) for each in (both.baseline, both.postfix)]
    return float(10.0 * np.log10(levels[0] / levels[1]))


def test_they_run_through_the_same_speeds_and_differ_by_what_they_do() -> None:
    both = heard(driven(7.0, 0.4), driven(31.0, 0.1))
    assert both.rpm_apart < 0.002
    assert both.baseline.rpm == pytest.approx(both.postfix.rpm, rel=0.005)
    assert both.baseline.rpm[0] < band().peak_rpm < both.baseline.rpm[1]
    assert both.baseline.samples.size == both.postfix.samples.size == 10 * RATE_HZ
    assert fell_by_db(both) == pytest.approx(12.04, abs=0.1)  # a quarter of the amplitude
    assert max(np.abs(both.baseline.samples).max(), np.abs(both.postfix.samples).max()) == (
        pytest.approx(0.7)
    )


def test_another_sampling_rate_changes_nothing() -> None:
    both = heard(driven(7.0, 0.4), driven(12.0, 0.1, rate_hz=48_000.0))
    assert fell_by_db(both) == pytest.approx(12.04, abs=0.1)


def test_a_gain_that_is_known_is_taken_off_and_one_that_is_not_stays() -> None:
    louder = driven(31.0, 0.2)  # 6.02 dB of gain on a drone of 0.1
    assert fell_by_db(heard(driven(7.0, 0.4), louder, 6.02)) == pytest.approx(12.04, abs=0.1)
    assert fell_by_db(heard(driven(7.0, 0.4), louder)) == pytest.approx(6.02, abs=0.1)


def test_calibrated_drives_are_on_one_scale_of_pressure() -> None:
    """The second chain shows 10 dB less for the same pressure: IEC 60942 calibrators tell that."""
    (first, found), (second, found_after) = driven(7.0, 0.4), driven(31.0, 0.1)
    assert first.sound is not None
    assert second.sound is not None
    first = replace(first, sound=replace(first.sound, full_scale_db_spl=110.0))
    second = replace(second, sound=replace(second.sound, full_scale_db_spl=120.0))
    assert fell_by_db(heard((first, found), (second, found_after))) == pytest.approx(2.04, abs=0.1)


def test_a_climb_is_laid_beside_a_climb_of_the_same_pace() -> None:
    """The fall of the second drive is nearer to the peak for no longer, and runs the other way."""
    both = heard(driven(7.0, 0.4), driven(7.0, 0.1, climb_s=30.0))
    assert 0.005 < both.rpm_apart < 0.05


def test_nothing_is_played_where_it_would_mislead() -> None:
    (before, found), (after, found_after) = driven(7.0, 0.4), driven(31.0, 0.1)
    drives = (before, after)
    held = replace(found_after, level_was_held=True)
    assert both_drives(drives, (found, held), band()) is None
    assert both_drives((before, replace(after, sound=None)), (found, found_after), band()) is None
    elsewhere = band(5000.0)
    assert both_drives(drives, (found, found_after), elsewhere) is None
    hasty = driven(5.0, 0.1, climb_s=4.0)
    assert both_drives((before, hasty[0]), (found, hasty[1]), band()) is None


def piece(samples: NDArray[np.float64], start_s: float) -> Heard:
    return Heard(samples=samples, start_s=start_s, rpm=(2010.0, 2490.0))


def test_the_page_says_that_both_had_one_gain() -> None:
    quiet = np.zeros(int(10 * RATE_HZ))
    both = BothDrives(
        baseline=piece(quiet, 12.0),
        postfix=piece(quiet, 40.0),
        rate_hz=RATE_HZ,
        rpm_apart=0.004,
        gain_db=0.0,
    )
    section = hear_section(both)
    assert section is not None
    clips, text = section.blocks
    assert isinstance(clips, Clips)
    assert isinstance(text, Text)
    assert [clip.label for clip in clips.clips] == [
        "Before: the baseline",
        "After: the post-fix drive",
    ]
    assert all(len(clip.wav) < 170_000 for clip in clips.clips)
    assert "one and the same factor" in text.text
    assert "pace" not in text.text
    louder = hear_section(replace(both, gain_db=4.2, rpm_apart=0.06))
    assert louder is not None
    said = louder.blocks[1]
    assert isinstance(said, Text)
    assert "4 dB louder that gain or microphone place" in said.text
    assert "6 % apart" in said.text
