"""Overall level before and after: against tones of known level, and changes made by hand."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.compare.comparison import compare_drives
from analysis.compare.overall_change import part_changes
from analysis.find.drone import find_drone
from analysis.findings import Findings, OverallPasses, Weighting
from analysis.verdicts import DrivePart, PartChange
from tests.analysis.made_drives import RATE_HZ, drive_of, orders_sound, rows
from tests.analysis.made_findings import make_findings

IDLE_RPM, CRUISE_RPM = 850.0, 2400.0


def driven_rpm(cruise_rpm: float = CRUISE_RPM) -> FloatArray:
    """Ten seconds of idle, a climb, ten seconds of cruise, and down to the start again."""
    knots_s = np.array([0.0, 10.0, 40.0, 45.0, 55.0, 90.0])
    knots_rpm = [IDLE_RPM, IDLE_RPM, 3000.0, cruise_rpm, cruise_rpm, 1200.0]
    time_s = np.arange(round(90.0 * RATE_HZ)) / RATE_HZ
    return np.asarray(np.exp(np.interp(time_s, knots_s, np.log(knots_rpm))))


def found(amplitude: float) -> Findings:
    """An engine of a single note, 0.5 mean square for an amplitude of 1."""
    rpm = driven_rpm()
    return find_drone(drive_of(orders_sound(rpm, {3.0: amplitude}, noise=1e-5), rows(rpm)))


@pytest.fixture(scope="module")
def before() -> Findings:
    return found(0.2)


def parts_of(changes: tuple[PartChange, ...], weighting: Weighting) -> dict[DrivePart, PartChange]:
    return {each.part: each for each in changes if each.weighting is weighting}


def test_each_pass_reads_the_level_of_the_tone(before: Findings) -> None:
    """0 dB is a full-scale sine, so a fifth of it is -13.98 dB (AES17)."""
    (z,) = (each for each in before.overall_passes if each.weighting is Weighting.Z)
    level_db = 10.0 * np.log10(z.total_ms) + before.full_scale_db
    assert level_db == pytest.approx(np.full(level_db.size, 20.0 * np.log10(0.2)), abs=0.3)
    assert z.seconds.sum() == pytest.approx(before.duration_s, abs=3.0)


def test_idle_cruise_and_whole_drive(before: Findings) -> None:
    after = found(0.1)
    parts = parts_of(part_changes(before, after), Weighting.Z)
    assert set(parts) == set(DrivePart)
    for each in parts.values():
        assert each.change_db == pytest.approx(-6.02, abs=0.1)
        assert each.ci95_db.low < -6.02 < each.ci95_db.high
    assert parts[DrivePart.IDLE].low_rpm == pytest.approx(IDLE_RPM, rel=0.02)
    assert parts[DrivePart.IDLE].high_rpm == pytest.approx(IDLE_RPM, rel=0.02)
    cruise = parts[DrivePart.CRUISE]
    assert cruise.low_rpm == pytest.approx(CRUISE_RPM / 1.03, rel=0.01)
    assert cruise.high_rpm == pytest.approx(CRUISE_RPM * 1.03, rel=0.01)
    whole = parts[DrivePart.WHOLE]
    assert (whole.low_rpm, whole.high_rpm) == pytest.approx((IDLE_RPM, 3000.0), rel=0.02)


def steady(rpm: float, level_db: float, seconds: float, gear: float = np.nan) -> OverallPasses:
    """One rest at one engine speed."""
    one = np.array([1.0])
    return OverallPasses(
        weighting=Weighting.A,
        pass_index=np.zeros(1, dtype=np.int64),
        rising=np.zeros(1, dtype=np.bool_),
        bin_index=np.array([round(float(np.log(rpm / 300.0) / np.log(1.01)))]),
        rpm=rpm * one,
        total_ms=10.0 ** (0.1 * level_db) * one,
        background_ms=0.0 * one,
        seconds=seconds * one,
        gear=gear * one,
        load_part=np.nan * one,
    )


def told(before: OverallPasses, after: OverallPasses) -> dict[DrivePart, PartChange]:
    first, second = (replace(make_findings([]), overall_passes=(each,)) for each in (before, after))
    return parts_of(part_changes(first, second), Weighting.A)


def test_idles_at_other_speeds_are_one_state() -> None:
    parts = told(steady(850.0, 60.0, 9.0), steady(790.0, 57.0, 9.0))
    assert set(parts) == {DrivePart.IDLE}
    assert parts[DrivePart.IDLE].change_db == pytest.approx(-3.0)
    assert (parts[DrivePart.IDLE].low_rpm, parts[DrivePart.IDLE].high_rpm) == (790.0, 850.0)


def test_crawling_in_gear_is_not_idle() -> None:
    assert DrivePart.IDLE not in told(steady(900.0, 60.0, 9.0, 0.0), steady(900.0, 60.0, 9.0, 0.0))


@pytest.mark.parametrize(("seconds", "is_cruise"), [(4.0, False), (6.0, True)])
def test_cruise_is_a_speed_that_was_held(seconds: float, *, is_cruise: bool) -> None:
    parts = told(steady(2400.0, 70.0, seconds), steady(2400.0, 66.0, seconds))
    assert (DrivePart.CRUISE in parts) is is_cruise
    assert parts[DrivePart.WHOLE].change_db == pytest.approx(-4.0)


def test_a_drive_without_result_gives_no_levels(before: Findings) -> None:
    """Automatic gain makes every level worthless."""
    withheld = replace(before, withheld="the gain moved", bands=())
    comparison = compare_drives(before, withheld)
    assert comparison.parts == ()
    assert comparison.overall == ()
