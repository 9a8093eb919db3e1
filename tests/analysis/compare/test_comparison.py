"""Verdicts, refusals and doubts of a comparison, on curves whose true change is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.compare.comparison import compare_drives
from analysis.compare.judgement import maybe_two_cars
from analysis.drive import Engine
from analysis.errors import DriveError
from analysis.findings import (
    Findings,
)
from analysis.verdicts import BandChange, Verdict
from analysis.words import quantities as words
from tests.analysis.made_findings import (
    FULL_SCALE_DB,
    drone_ms,
    make_band,
    make_curve,
    make_findings,
)
from tests.analysis.made_pairs import BAND, BEFORE_MS, PEAK, RPM, changed, drive


def only_change(baseline: Findings, postfix: Findings) -> BandChange:
    (change,) = compare_drives(baseline, postfix).changes
    return change


@pytest.mark.parametrize(
    ("decibels", "verdict"),
    [
        (-15.0, Verdict.CURED),
        (-6.0, Verdict.REDUCED),
        (0.0, Verdict.UNCHANGED),
        (+7.0, Verdict.WORSE),
    ],
)
def test_known_change_gets_its_verdict(decibels: float, verdict: Verdict) -> None:
    change = only_change(drive(BEFORE_MS, (BAND,)), drive(changed(decibels), seed=2))
    assert change.verdict is verdict
    assert change.ci95_db.low < decibels < change.ci95_db.high
    assert change.level_change_db == pytest.approx(decibels, abs=1.5)


def test_what_is_left_of_a_cure_is_named() -> None:
    left = make_band(3.0, PEAK * 1.03, level_db=66.0)
    change = only_change(drive(BEFORE_MS, (BAND,)), drive(changed(-14.0), (left,), seed=2))
    assert change.verdict is Verdict.CURED
    assert f"{round(PEAK * 1.03, -1):,.0f} rpm, is faint" in change.why
    more = only_change(drive(BEFORE_MS, (BAND,)), drive(changed(-8.0), (left,), seed=2))
    assert more.verdict is Verdict.REDUCED
    assert "but a drone is left" in more.why


def test_a_hill_that_only_stands_out_more_is_no_new_drone() -> None:
    """A wide branch takes away what is around it."""
    hill = make_band(3.0, 1.3 * PEAK)
    around = np.abs(RPM / (1.3 * PEAK) - 1.0) > 0.04
    after = np.where(around, 0.1, 0.6) * BEFORE_MS
    comparison = compare_drives(drive(BEFORE_MS, (BAND,)), drive(after, (hill,), seed=2))
    assert comparison.new_bands == ()


def test_a_peak_that_is_left_is_no_cure() -> None:
    """One bin of 1 % hardly shows in the mean over the band, and is heard."""
    narrow = np.abs(RPM / (1.04 * PEAK) - 1.0) < 0.006
    left = np.where(narrow, 10.0**-0.2, 10.0**-2.5) * BEFORE_MS
    change = only_change(drive(BEFORE_MS, (BAND,)), drive(left, seed=2))
    assert change.level_change_db < -11.0
    assert change.highest_change_db > -9.0
    assert change.verdict is Verdict.REDUCED
    assert "highest level" in change.why


@pytest.mark.parametrize("decibels", [-15.0, -6.0, 7.0])
def test_the_highest_level_changes_by_what_everything_does(decibels: float) -> None:
    change = only_change(drive(BEFORE_MS, (BAND,)), drive(changed(decibels), seed=2))
    assert change.highest_change_db == pytest.approx(decibels, abs=1.5)


@pytest.mark.parametrize("decibels", [-15.0, 5.0])
def test_the_highest_level_elsewhere_changes_by_what_everything_there_does(decibels: float) -> None:
    near = (RPM >= 0.85 * PEAK) & (RPM <= 1.18 * PEAK)
    after = drive(np.where(near, 0.05, 10.0 ** (0.1 * decibels)) * BEFORE_MS, seed=2)
    change = only_change(drive(BEFORE_MS, (BAND,)), after)
    assert change.elsewhere_change_db == pytest.approx(decibels, abs=1.5)


def test_drone_that_came_up_elsewhere_has_moved() -> None:
    elsewhere = 1.2 * PEAK
    after = drive(drone_ms(RPM, elsewhere), (make_band(3.0, elsewhere, level_db=79.0),), seed=2)
    comparison = compare_drives(drive(BEFORE_MS, (BAND,)), after)
    assert comparison.changes[0].verdict is Verdict.MOVED
    assert [band.peak_rpm for band in comparison.new_bands] == [elsewhere]


def test_band_that_was_there_before_has_not_moved_there() -> None:
    second = make_band(3.0, 1.3 * PEAK)
    both = np.maximum(BEFORE_MS, drone_ms(RPM, 1.3 * PEAK))
    only_second = drone_ms(RPM, 1.3 * PEAK)
    comparison = compare_drives(drive(both, (BAND, second)), drive(only_second, (second,), seed=2))
    assert comparison.changes[0].verdict in (Verdict.CURED, Verdict.REDUCED)
    assert comparison.changes[1].verdict is Verdict.UNCHANGED
    assert comparison.new_bands == ()


def test_quiet_new_band_is_named_but_does_not_count_as_moved() -> None:
    weak = make_band(3.0, 1.2 * PEAK, level_db=70.0)
    after = np.maximum(changed(-15.0), 0.5 * drone_ms(RPM, 1.2 * PEAK))
    comparison = compare_drives(drive(BEFORE_MS, (BAND,)), drive(after, (weak,), seed=2))
    assert comparison.changes[0].verdict is not Verdict.MOVED
    assert comparison.new_bands == (weak,)


def test_band_of_another_order_at_the_same_rpm_is_new() -> None:
    other = make_band(6.0, PEAK)
    comparison = compare_drives(
        drive(BEFORE_MS, (BAND,)),
        drive(BEFORE_MS, (other,), seed=2, order_6_ms=drone_ms(RPM, PEAK)),
    )
    assert comparison.new_bands == (other,)


def test_a_band_where_the_baseline_did_not_drive_is_not_called_new() -> None:
    """The baseline ends below it, so it may have been there before the work too."""
    reach = RPM < 2700.0
    before = drive(BEFORE_MS[reach], (BAND,), rpm=RPM[reach])
    beyond, within = make_band(3.0, 3000.0), make_band(6.0, 1600.0)
    comparison = compare_drives(
        before,
        drive(changed(-15.0), (beyond, within), seed=2, order_6_ms=drone_ms(RPM, 1600.0)),
    )
    assert comparison.new_bands == (within,)
    (doubt,) = [each for each in comparison.warnings if each.code == "not_driven_before"]
    assert "order 3 at 3,000 rpm" in doubt.message


def test_less_than_70_percent_of_the_band_cannot_tell() -> None:
    reach = RPM < PEAK * 1.01  # a little over half of the band
    after = drive(drone_ms(RPM[reach], PEAK), rpm=RPM[reach], seed=2)
    change = only_change(drive(BEFORE_MS, (BAND,)), after)
    assert change.verdict is Verdict.CANNOT_TELL
    assert "share only" in change.why


def test_what_drives_can_show_is_told_for_the_whole_band_only() -> None:
    rpm = RPM[RPM < 2250.0]
    half = drive(drone_ms(rpm, PEAK), rpm=rpm, seed=2)
    assert np.isnan(only_change(drive(BEFORE_MS, (BAND,)), half).smallest_change_db)


def test_no_common_rpm_gives_no_number() -> None:
    reach = RPM < PEAK / 1.2
    after = drive(drone_ms(RPM[reach], PEAK), rpm=RPM[reach], seed=2)
    change = only_change(drive(BEFORE_MS, (BAND,)), after)
    assert change.verdict is Verdict.CANNOT_TELL
    assert np.isnan(change.level_change_db)
    assert np.isnan(change.ci95_db.low)


def test_passes_that_disagree_wildly_cannot_tell() -> None:
    uneven = make_curve(3.0, BEFORE_MS, RPM, passes=2, pass_gain_db=(-5.0, 5.0))
    lower = make_curve(3.0, changed(-2.0), RPM, passes=2, pass_gain_db=(-5.0, 5.0))
    change = only_change(make_findings([uneven], [BAND]), make_findings([lower]))
    assert change.level_change_db == pytest.approx(-2.0, abs=0.3)
    assert change.ci95_db.high - change.ci95_db.low > 8.0
    assert change.verdict is Verdict.CANNOT_TELL
    assert "more sweeps" in change.why


def test_order_buried_in_noise_gives_an_upper_bound() -> None:
    noise_ms = 3e-5  # the drone peaks near 1.7e-4
    after = drive(changed(-25.0), background_ms=noise_ms, seed=2)
    change = only_change(drive(BEFORE_MS, (BAND,)), after)
    assert change.ci95_db.low < -40.0
    assert -25.0 < change.ci95_db.high < 0.0
    assert "at least" in change.why


def test_like_drives_raise_no_doubt() -> None:
    comparison = compare_drives(drive(BEFORE_MS, (BAND,)), drive(changed(-15.0), seed=2))
    assert comparison.warnings == ()


def test_one_pass_is_said() -> None:
    comparison = compare_drives(
        drive(BEFORE_MS, (BAND,), passes=1), drive(changed(-15.0), passes=2, seed=2)
    )
    (doubt,) = comparison.warnings
    assert doubt.code == "few_passes"
    assert doubt.message.startswith(
        f"At {words.rpm(BAND.peak_rpm)} (order {BAND.engine_order:g}) one sweep of the baseline "
        "and 2 sweeps of the post-fix drive could be compared: "
    )


def test_baseline_without_drone_is_said() -> None:
    comparison = compare_drives(drive(BEFORE_MS), drive(BEFORE_MS, seed=2))
    assert comparison.changes == ()
    assert [doubt.code for doubt in comparison.warnings] == ["no_baseline_drone"]


def test_other_engine_is_said() -> None:
    before = replace(drive(BEFORE_MS, (BAND,)), engine=Engine(cylinders=6))
    after = replace(drive(BEFORE_MS, seed=2), engine=Engine(cylinders=4))
    comparison = compare_drives(before, after)
    assert {doubt.code for doubt in comparison.warnings} == {"engine_differs"}
    assert comparison.changes[0].verdict is Verdict.CANNOT_TELL
    assert "6 cylinders" in comparison.changes[0].why


def test_one_recording_given_twice_says_nothing_of_the_work() -> None:
    once = drive(BEFORE_MS, (BAND,))
    comparison = compare_drives(once, replace(once, drive_name="a copy"))
    assert [doubt.code for doubt in comparison.warnings] == ["same_recording"]
    assert comparison.changes[0].verdict is Verdict.CANNOT_TELL
    assert np.isnan(comparison.changes[0].level_change_db)


@pytest.mark.parametrize(
    ("after", "is_said"),
    [((94.0, 70.0), False), ((95.5,), False), ((99.0, 73.5), True), ((140.0, 120.0), False)],
)
def test_gears_that_are_near_but_not_the_same_are_said(
    after: tuple[float, ...], is_said: bool
) -> None:
    before = replace(drive(BEFORE_MS, (BAND,)), gear_ratios=(94.0, 70.0))
    later = replace(drive(changed(-15.0), seed=2), gear_ratios=after)
    comparison = compare_drives(before, later)
    assert ("other_gearing" in {doubt.code for doubt in comparison.warnings}) == is_said
    assert (maybe_two_cars(comparison) is not None) == is_said


def test_a_response_taken_out_of_one_drive_only_is_said() -> None:
    plain = replace(drive(BEFORE_MS, (BAND,)), drive_name="plain")
    flat = replace(drive(changed(-15.0), seed=2), drive_name="flat", is_flattened=True)
    for before, after in ((plain, flat), (replace(flat, bands=(BAND,)), plain)):
        (doubt,) = compare_drives(before, after).warnings
        assert doubt.code == "response_differs"
        assert "taken out of flat but not of plain" in doubt.message
    both = compare_drives(replace(plain, is_flattened=True), flat)
    assert both.warnings == ()


def test_unlike_units_are_refused() -> None:
    before = drive(BEFORE_MS, (BAND,))
    with pytest.raises(DriveError, match="calibrate both drives or neither"):
        compare_drives(before, replace(before, level_unit="dB SPL"))


def test_gain_turned_up_and_calibrated_again_changes_nothing() -> None:
    """6.02 dB more gain doubles the amplitude, and full scale stands for 6.02 dB less."""
    before = drive(BEFORE_MS, (BAND,))
    after = drive(0.1 * BEFORE_MS, seed=2)
    louder = replace(
        after,
        curves=tuple(
            replace(curve, total_ms=4.0 * curve.total_ms, background_ms=4.0 * curve.background_ms)
            for curve in after.curves
        ),
        full_scale_db=FULL_SCALE_DB - 20.0 * np.log10(2.0),
    )
    plain, turned = compare_drives(before, after), compare_drives(before, louder)
    assert turned.changes[0].level_change_db == pytest.approx(-10.0, abs=0.5)
    assert turned.changes[0].level_change_db == pytest.approx(plain.changes[0].level_change_db)
    assert turned.changes[0].verdict == plain.changes[0].verdict
    assert [doubt.code for doubt in turned.warnings] == [doubt.code for doubt in plain.warnings]
    np.testing.assert_allclose(turned.curves[0].after_db, plain.curves[0].after_db)


def test_curves_hold_both_drives_over_common_rpm() -> None:
    reach = RPM < 3000.0
    before = drive(BEFORE_MS, (BAND,), pass_spread_db=0.0, background_ms=0.0)
    after = drive(
        drone_ms(RPM[reach], PEAK),
        (make_band(6.0, 1800.0),),
        rpm=RPM[reach],
        pass_spread_db=0.0,
        background_ms=0.0,
    )
    comparison = compare_drives(before, after)
    assert [curve.engine_order for curve in comparison.other_curves] == [1.5, 4.5, 7.5]
    third, sixth = comparison.curves
    assert (third.engine_order, sixth.engine_order) == (3.0, 6.0)
    np.testing.assert_allclose(third.rpm, RPM[reach])
    np.testing.assert_allclose(third.before_db, FULL_SCALE_DB + 10.0 * np.log10(BEFORE_MS[reach]))
    np.testing.assert_allclose(third.after_db, third.before_db)
