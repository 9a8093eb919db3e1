"""Only what both drives hold is compared: generated drives whose true change is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.rows import rows
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.comparison import compare_drives
from analysis.compare.match.left_out import matching_of
from analysis.compare.match.level_change import LevelChange, change_in_bins
from analysis.compare.match.like_with_like import LOAD_UNKNOWN_ARM_DB
from analysis.find.curves.pass_table import bins_within
from analysis.find.drone import find_drone
from analysis.findings import DroneBand, Findings, OrderCurve
from analysis.verdicts import BandChange, Comparison, Condition, Verdict
from tests.analysis.made_findings import grid, make_band, make_curve, make_findings
from tests.drives import DriveSpec, GeneratedDrive, Leg, SideBranch, TelemetrySpec, generate

RIGHT_WITHIN_DB = 1.5
SEED = 12


def sweeps(gear: int, *loads: float) -> tuple[Leg, ...]:
    """One slow climb in this gear for each load, and a fall after it, with rests between."""
    legs = [Leg(duration_s=3.0, end_rpm=1300.0, gear=gear, load=loads[0])]
    for load in loads:
        legs += [
            Leg(duration_s=14.0, end_rpm=3300.0, gear=gear, load=load),
            Leg(duration_s=2.0, end_rpm=3300.0, gear=gear, load=load),
            Leg(duration_s=11.0, end_rpm=1300.0, gear=gear, load=load),
        ]
    return tuple(legs)


def driven(
    *legs: Leg, outing: int, branch: bool = False, load: bool = True, speed: bool = True
) -> GeneratedDrive:
    spec = DriveSpec(
        start_rpm=1300.0,
        legs=legs,
        telemetry=TelemetrySpec(load=load, road_speed=speed),
        branch=SideBranch(tuned_hz=112.0) if branch else None,
    )
    return generate(spec, SEED, outing=outing)


def firing_change(comparison: Comparison) -> BandChange:
    return next(each for each in comparison.changes if each.band.engine_order == 3.0)


def true_change_db(before: GeneratedDrive, after: GeneratedDrive, band: DroneBand) -> float:
    """From the generator's filters, over the band where ``find`` put it."""
    power = [
        made.truth.car.band_mean_square(band.engine_order, band.low_rpm, band.high_rpm)
        for made in (before, after)
    ]
    return float(10.0 * np.log10(power[1] / power[0]))


def assert_right(change: BandChange, true_db: float) -> None:
    assert change.level_change_db == pytest.approx(true_db, abs=RIGHT_WITHIN_DB)
    assert change.ci95_db.low < true_db < change.ci95_db.high


@pytest.fixture(scope="module")
def before() -> GeneratedDrive:
    """Third gear, half load."""
    return driven(*sweeps(3, 0.5, 0.5), outing=0)


@pytest.fixture(scope="module")
def found_before(before: GeneratedDrive) -> Findings:
    return find_drone(before.drive())


def test_passes_at_full_load_in_another_gear_are_left_out(
    before: GeneratedDrive, found_before: Findings
) -> None:
    """Half load in third both times; the second drive adds full load, which is 6 dB louder."""
    after = driven(*sweeps(3, 0.5, 1.0), *sweeps(4, 1.0, 1.0), outing=1, branch=True)
    found_after = find_drone(after.drive())
    comparison = compare_drives(found_before, found_after)
    change = firing_change(comparison)
    assert_right(change, true_change_db(before, after, change.band))
    assert {each.value for each in change.kept_alike} == {"gear", "load", "direction"}
    assert comparison.matching is not None
    _, left_out = comparison.matching.left_out
    assert left_out.sweeps - left_out.sweeps_compared == 6  # two in third, four in fourth
    assert {part.reason for part in left_out.parts} >= {"gear", "load"}
    (gear,) = (part.what for part in left_out.parts if part.reason == "gear")
    # fourth gear of the generator: 3.5 turns of the engine for one of a wheel of 1.95 m
    rpm_per_kmh = 60.0 * 3.5 / 1.95 / 3.6
    told = re.search(r"the gear of ([\d,]+) rpm at (\d+) km/h \((\d+) mph\)", gear)
    assert told is not None
    told_rpm, told_kmh, told_mph = (float(each.replace(",", "")) for each in told.groups())
    assert told_rpm / told_kmh == pytest.approx(rpm_per_kmh, rel=0.02)
    assert told_mph == pytest.approx(told_kmh / 1.609344, abs=0.5)
    assert told_rpm <= found_after.curves[0].rpm.max()  # an engine speed that was driven


def test_without_a_log_of_load_the_gear_alone_parts_the_passes(before: GeneratedDrive) -> None:
    found = find_drone(driven(*sweeps(3, 0.5, 0.5), outing=0, load=False).drive())
    after = driven(*sweeps(3, 0.5, 0.5), *sweeps(4, 1.0, 1.0), outing=1, branch=True, load=False)
    change = firing_change(compare_drives(found, find_drone(after.drive())))
    assert_right(change, true_change_db(before, after, change.band))
    assert {each.value for each in change.kept_alike} == {"gear", "direction"}


def test_nothing_driven_alike_widens_the_interval_and_says_so(
    before: GeneratedDrive, found_before: Findings
) -> None:
    """Half load in third, then full load in fourth: what the branch did is 6 dB in doubt."""
    after = driven(*sweeps(4, 1.0, 1.0), outing=1, branch=True)
    comparison = compare_drives(found_before, find_drone(after.drive()))
    change = firing_change(comparison)
    true_db = true_change_db(before, after, change.band)
    assert change.ci95_db.low < true_db < change.ci95_db.high
    assert change.ci95_db.high - change.ci95_db.low > 10.0
    (doubt,) = (each for each in comparison.warnings if each.code == "driven_unlike")
    assert "gear" in doubt.message
    assert "load" in doubt.message
    assert change.verdict in (Verdict.CANNOT_TELL, Verdict.REDUCED)


def test_a_verdict_lost_to_unlike_driving_says_how_to_drive_again() -> None:
    before = make_findings([made_curve([QUIET])], [make_band(3.0, 2200.0)])
    after = make_findings([made_curve([(0.0, 0.9, 4.0, True)])])
    pair = (replace(before, gear_ratios=(94.0,)), replace(after, gear_ratios=(70.0,)))
    (change,) = compare_drives(*pair).changes
    assert change.verdict is Verdict.CANNOT_TELL
    assert "drive again with the same gear and load" in change.why


def test_a_second_drive_that_does_not_know_its_gear(
    before: GeneratedDrive, found_before: Findings
) -> None:
    """The same passes, but the second log holds no road speed; load still parts them."""
    after = driven(*sweeps(3, 0.5, 0.5), *sweeps(4, 1.0), outing=1, branch=True, speed=False)
    comparison = compare_drives(found_before, find_drone(after.drive()))
    change = firing_change(comparison)
    assert_right(change, true_change_db(before, after, change.band))
    assert {each.value for each in change.kept_alike} == {"load", "direction"}
    codes = {each.code for each in comparison.warnings}
    assert "gear_unknown" not in codes  # the drive that tells has one gear only
    turned = compare_drives(find_drone(after.drive()), found_before)
    assert "gear_unknown" not in {each.code for each in turned.warnings}


def made_curve(passes: Sequence[tuple[float, float, float, bool]]) -> OrderCurve:
    """Sweeps over one range: gear, load, level in dB, whether it climbs."""
    rpm = grid()
    one = make_curve(3.0, np.full(rpm.size, 1e-4), rpm, passes=len(passes), background_ms=1e-9)
    gear, load, level_db, rising = (
        np.repeat(column, rpm.size) for column in zip(*passes, strict=True)
    )
    return replace(
        one,
        total_ms=one.total_ms * 10.0 ** (0.1 * level_db),
        gear=gear,
        load_part=load,
        rising=rising.astype(np.bool_),
    )


def change_between(before: OrderCurve, after: OrderCurve) -> LevelChange:
    return change_in_bins(before, after, bins_within(2000.0, 2400.0))


QUIET, LOUD = (0.0, 0.4, 0.0, True), (0.0, 0.8, 6.0, True)


def test_each_state_counts_alike_however_long_either_drive_held_it() -> None:
    """Without it one drive of three loud passes against one of one seems 3 dB louder."""
    before = made_curve([QUIET, QUIET, QUIET, LOUD])
    after = made_curve([QUIET, LOUD, LOUD, LOUD])
    assert change_between(before, after).change_db == pytest.approx(0.0, abs=0.05)


def test_loads_that_are_nearly_alike_are_one_load() -> None:
    before, after = made_curve([(0.0, 0.49, 0.0, True)]), made_curve([(0.0, 0.51, 0.0, True)])
    change = change_between(before, after)
    assert Condition.LOAD in change.kept_alike
    # 20 lg(0.51 / 0.49) is 0.35 dB, and half as much again
    assert change.unlike_arm_db == pytest.approx(0.52, abs=0.01)


def test_climbs_are_not_compared_with_falls_where_that_can_be_helped() -> None:
    climb, fall = (0.0, np.nan, 0.0, True), (0.0, np.nan, -8.0, False)
    before, after = made_curve([climb, climb]), made_curve([climb, fall, fall])
    change = change_between(before, after)
    assert change.change_db == pytest.approx(0.0, abs=0.05)
    assert change.given_up == frozenset()
    only_falls = change_between(before, made_curve([fall, fall]))
    assert only_falls.change_db == pytest.approx(-8.0, abs=0.05)
    assert only_falls.given_up == {Condition.DIRECTION}
    assert only_falls.unlike_arm_db == pytest.approx(LOAD_UNKNOWN_ARM_DB)


def test_only_the_bins_that_are_not_alike_widen_the_interval() -> None:
    """Climbs up to the middle of the stretch, falls over all of it."""
    climb, fall = (0.0, np.nan, 0.0, True), (0.0, np.nan, 0.0, False)
    before = made_curve([climb])
    half = made_curve([climb, fall])
    kept = (half.pass_index == 1) | (half.rpm < 2200.0)
    after = rows(half, kept)
    change = change_between(before, after)
    assert change.shared == 1.0
    assert change.given_up == {Condition.DIRECTION}
    bins = bins_within(2000.0, 2400.0)
    share = float(np.mean(bin_centre_rpm(bins) > 2200.0))
    assert 0.4 < share < 0.6
    rise_db = 10.0 * np.log10(1.0 - share + share * 10.0 ** (0.1 * LOAD_UNKNOWN_ARM_DB))
    assert change.unlike_arm_db == pytest.approx(rise_db)


def test_a_quiet_state_in_common_does_not_bury_what_the_rest_can_tell() -> None:
    """Coasting in third is in both drives and below the noise; full load is in other gears."""
    coast, third, fourth = (0.0, 0.1, -60.0, True), (0.0, 0.9, 0.0, True), (1.0, 0.9, -9.0, True)
    change = change_between(made_curve([coast, third]), made_curve([coast, fourth]))
    assert not change.before_buried
    assert change.change_db == pytest.approx(-9.0, abs=0.5)
    assert Condition.GEAR in change.given_up


def test_gears_are_known_by_their_ratio_not_by_their_number() -> None:
    """The second drive also used a lower gear, so that its gear number 1 is the first's 0."""
    low, same = (0.0, np.nan, 9.0, True), (1.0, np.nan, 0.0, True)
    before = make_findings([made_curve([(0.0, np.nan, 0.0, True)])], [make_band(3.0, 2200.0)])
    after = make_findings([made_curve([low, same])])
    baseline = replace(before, gear_ratios=(94.0,))
    postfix = replace(after, gear_ratios=(140.0, 95.0))
    (change,) = compare_drives(baseline, postfix).changes
    assert change.level_change_db == pytest.approx(0.0, abs=0.05)
    assert Condition.GEAR in change.kept_alike


def test_what_is_left_out_is_left_out_for_one_reason() -> None:
    """Fourth gear at engine speeds that third gear has in both drives: for the gear alone."""
    third, fourth = (0.0, np.nan, 0.0, True), (1.0, np.nan, 0.0, True)
    before = make_findings([made_curve([third, fourth])], [make_band(3.0, 2200.0)])
    after = make_findings([made_curve([third])])
    matching = matching_of(
        replace(before, gear_ratios=(94.0, 70.0)), replace(after, gear_ratios=(94.0,))
    )
    assert matching is not None
    left_out, nothing = matching.left_out
    assert nothing.parts == ()
    (gear,) = left_out.parts
    assert gear.reason == "gear"
    assert gear.seconds == pytest.approx(0.5 * left_out.seconds)
    assert left_out.seconds_compared == pytest.approx(0.5 * left_out.seconds)


def test_loads_from_different_columns_are_not_compared() -> None:
    before = make_findings([made_curve([QUIET])], [make_band(3.0, 2200.0)])
    after = make_findings([made_curve([LOUD])])
    pair = (
        replace(before, load_column="load_percent"),
        replace(after, load_column="throttle_percent"),
    )
    (change,) = compare_drives(*pair).changes
    assert Condition.LOAD not in change.kept_alike
    assert change.level_change_db == pytest.approx(6.0, abs=0.05)
