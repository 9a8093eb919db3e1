"""Comparisons in which one drive or both hold levels and no sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.compare.comparison import compare_drives
from analysis.compare.trim.built import BuiltBranch
from analysis.errors import DriveError
from analysis.findings import DroneBand, Findings, OrderCurve, OverallPasses, PassCurve, Weighting
from analysis.verdicts import Verdict
from tests.analysis.made_findings import FULL_SCALE_DB, drone_ms, make_curve, make_findings
from tests.analysis.made_pairs import BAND, BEFORE_MS, PEAK, RPM, changed, drive


def levels(
    order_ms: FloatArray, seed: int, bands: tuple[DroneBand, ...] = (), unit: str = "dB(A)"
) -> Findings:
    """Overall levels only, on an absolute scale."""
    rng = np.random.default_rng(seed)
    curve = make_curve(3.0, order_ms, RPM, pass_spread_db=0.5, rng=rng)
    made = make_findings([curve], bands, levels_only=True, level_unit=unit, name="old-levels")
    return replace(made, full_scale_db=0.0, overall_passes=(as_overall(curve),))


def as_overall(curve: OrderCurve) -> OverallPasses:
    shared = {each.name: getattr(curve, each.name) for each in fields(PassCurve)}
    return OverallPasses(weighting=Weighting.A, **shared)


def test_levels_only_drives_take_part() -> None:
    less = drone_ms(RPM, PEAK, rise_db=3.0)
    comparison = compare_drives(levels(BEFORE_MS, 1, (BAND,)), levels(less, 2))
    (change,) = comparison.changes
    assert change.verdict is Verdict.REDUCED
    assert "overall level in dB(A)" in change.why
    assert "only sound can tell" in change.why
    (doubt,) = comparison.warnings
    assert doubt.code == "levels_only"
    assert "what to trim" in doubt.message


def test_what_to_trim_levels_do_not_tell() -> None:
    built = BuiltBranch(length_m=0.9, end_correction_m=0.01, bore_m=0.05, wanted_hz=112.0)
    less = levels(drone_ms(RPM, PEAK, rise_db=3.0), 2)
    comparison = compare_drives(levels(BEFORE_MS, 1, (BAND,)), less, [built])
    assert comparison.trims == ()
    assert [each.code for each in comparison.warnings] == ["levels_only", "trim_unknown"]


def test_levels_that_changed_alike_everywhere_are_no_success() -> None:
    """A drone that is cured leaves what lies well beside its band as it was."""
    comparison = compare_drives(levels(BEFORE_MS, 1, (BAND,)), levels(changed(-6.0), 2))
    assert comparison.changes[0].verdict is Verdict.UNCHANGED
    assert {each.code for each in comparison.warnings} == {"levels_only", "gain_or_place_differs"}


def test_levels_against_sound_on_no_absolute_scale_are_refused() -> None:
    sound = drive(BEFORE_MS, (BAND,))
    old = levels(BEFORE_MS, 1, (BAND,))
    for pair in ((sound, old), (old, sound)):
        with pytest.raises(DriveError, match="old-levels holds only levels in dB"):
            compare_drives(*pair)


def heard(order_ms: FloatArray, other_ms: float, bands: tuple[DroneBand, ...] = ()) -> Findings:
    """Calibrated sound: order 3, and an overall level with other noise in it.

    Order 3 peaks at 112 Hz, where the A-weighting is -17.5 dB (IEC 61672-1, by its formula).
    """
    made = drive(order_ms, bands, pass_spread_db=0.0, background_ms=0.0)
    overall = as_overall(made.curves[0])
    overall = replace(overall, total_ms=overall.total_ms * 10.0**-1.75 + other_ms)
    return replace(made, level_unit="dB SPL", overall_passes=(overall,))


def as_old(sound: Findings) -> Findings:
    """The same drive as a meter in dB(A) logs it."""
    (overall,) = sound.overall_passes
    level_ms = overall.total_ms * 10.0 ** (0.1 * FULL_SCALE_DB)
    (curve,) = (each for each in sound.curves if each.engine_order == 3.0)
    curve = replace(curve, total_ms=level_ms, background_ms=np.zeros(level_ms.size))
    return replace(
        sound,
        drive_name="old-levels",
        curves=(curve,),
        overall_passes=(replace(overall, total_ms=level_ms),),
        full_scale_db=0.0,
        level_unit="dB(A)",
        levels_only=True,
    )


def test_levels_against_calibrated_sound_compare_overall_levels() -> None:
    quiet_ms = 1e-9
    before = heard(BEFORE_MS, quiet_ms, (BAND,))
    less_ms = drone_ms(RPM, PEAK, rise_db=-10.0)
    after = heard(less_ms, quiet_ms)
    inside = (BAND.low_rpm < RPM) & (BAND.high_rpm > RPM)
    mean_ms = [each[inside].mean() * 10.0**-1.75 + quiet_ms for each in (BEFORE_MS, less_ms)]
    for pair in ((as_old(before), after), (before, as_old(after))):
        comparison = compare_drives(*pair)
        (change,) = comparison.changes
        assert change.level_change_db == pytest.approx(
            10.0 * np.log10(mean_ms[1] / mean_ms[0]), abs=0.1
        )
        assert change.verdict is Verdict.CURED
        assert comparison.new_bands == ()
        assert comparison.level_unit == "dB(A)"
        (doubt,) = (each for each in comparison.warnings if each.code == "levels_only")
        assert "what each order did" in doubt.message


def test_a_drone_that_hardly_shows_in_the_level_is_not_called_unchanged() -> None:
    """Other noise makes ten times as much of dB(A) as the drone: its end would take 0.4 dB."""
    loud_ms = 10.0 * float(BEFORE_MS.max()) * 10.0**-1.75
    before, after = heard(BEFORE_MS, loud_ms, (BAND,)), heard(changed(-20.0), loud_ms)
    (change,) = compare_drives(before, as_old(after)).changes
    assert abs(change.level_change_db) < 1.0
    assert change.verdict is Verdict.CANNOT_TELL
    assert "the drone makes so little" in change.why
