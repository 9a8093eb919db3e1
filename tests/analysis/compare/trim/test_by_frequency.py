"""Where a built branch works, from two drives, and what to trim."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.basics.rpm_bins import bin_centre_rpm, bin_of
from analysis.compare.trim.advice import TrimAdvice, believed, credible_gas_k
from analysis.compare.trim.branch_at_work import working_branches
from analysis.compare.trim.built import BuiltBranch, built_branches, sized_branches
from analysis.compare.trim.by_frequency import advise_trims
from analysis.exhaust.car import read_car
from analysis.find.drone import find_drone
from analysis.findings import Findings, OrderCurve
from analysis.size.from_findings import request_for_bands
from analysis.size.wishes import SizeWishes
from tests.analysis.made_findings import make_band, make_findings
from tests.analysis.report.compared_examples import TRIM
from tests.analysis.report.sized_examples import branch, sizing
from tests.drives import DriveSpec, generate
from tests.drives.make_recorded_sessions import CAR_FILE
from tests.drives.spec import Resonator, SideBranch

RPM = bin_centre_rpm(np.arange(bin_of(np.array([1200.0]))[0], bin_of(np.array([3800.0]))[0]))
DRONE_HZ = 112.0
NOISE_MS = 1e-7
NEARLY_RIGHT = SideBranch(tuned_hz=1.005 * DRONE_HZ)


def curve(order: float, net_ms: FloatArray) -> OrderCurve:
    count = RPM.size
    return OrderCurve(
        engine_order=order,
        pass_index=np.zeros(count, dtype=np.int64),
        rising=np.ones(count, dtype=np.bool_),
        bin_index=bin_of(RPM),
        rpm=RPM,
        total_ms=net_ms + NOISE_MS,
        background_ms=np.full(count, NOISE_MS),
        seconds=np.full(count, 0.5),
        gear=np.full(count, np.nan),
        load_part=np.full(count, np.nan),
        trend_db=np.full(count, np.nan),
        fitted_db=np.full(count, np.nan),
    )


def echoing_exhaust(frequency_hz: FloatArray) -> FloatArray:
    """Impedance at the branch of a pipe with 1.2 m to an open end and 1.2 m to a soft source.

    Both sides by the tube's input impedance (Z_end + Z tanh) / (1 + Z_end tanh): Kinsler et al.,
    Fundamentals of Acoustics, ch. 10 (from memory). A little is lost on the way.
    """

    def seen(end: float, length_m: float) -> FloatArray:
        turn = np.tanh(0.05 + 2j * np.pi * frequency_hz / 480.0 * length_m)
        return np.asarray((end + turn) / (1.0 + end * turn))

    onward, back = seen(0.05, 1.2), seen(0.3, 1.2)
    return np.asarray(onward * back / (onward + back))


def drives(*tuned_ratio: float) -> tuple[Findings, Findings, float]:
    """Before and after branches at one place of such an exhaust, and its drone's frequency."""
    fine_hz = np.linspace(60.0, 180.0, 4801)
    sounding = np.abs(echoing_exhaust(fine_hz)) ** 2
    peak = int(sounding.argmax())
    loud = fine_hz[sounding > 0.5 * sounding[peak]]
    band = replace(
        make_band(3.0, 20.0 * fine_hz[peak]), low_rpm=20.0 * loud[0], high_rpm=20.0 * loud[-1]
    )
    before, after = [], []
    for order in (3.0, 4.5):
        hz = order * RPM / 60.0
        impedance = echoing_exhaust(hz)
        through = 1.0 + sum(
            0.8 * impedance / (0.03 - 1j / np.tan(np.pi / 2.0 * hz / (ratio * fine_hz[peak])))
            for ratio in tuned_ratio
        )
        level_ms = np.abs(impedance) ** 2 * 1e-3 / order
        before.append(curve(order, level_ms))
        after.append(curve(order, level_ms / np.abs(through) ** 2))
    return make_findings(before, [band]), make_findings(after, []), float(fine_hz[peak])


@pytest.mark.parametrize("tuned_ratio", [0.9, 1.0, 1.06])
def test_echoes_do_not_pull_the_tuning_away(tuned_ratio: float) -> None:
    before, after, drone_hz = drives(tuned_ratio)
    (found,) = working_branches(before, after, [drone_hz])
    assert found.tuned_hz == pytest.approx(tuned_ratio * drone_hz, rel=0.01)
    assert found.ci95_hz.low < tuned_ratio * drone_hz < found.ci95_hz.high


@pytest.mark.parametrize("off", [0.88, 1.06])
def test_two_branches_are_not_taken_for_each_other(off: float) -> None:
    """Gas that is colder than was thought brings the one to where the other should be."""
    meant = (0.98, 1.12)
    before, after, drone_hz = drives(*(off * ratio for ratio in meant))
    found = working_branches(before, after, [ratio * drone_hz for ratio in meant])
    for ratio, working in zip(meant, found, strict=True):
        assert working.tuned_hz == pytest.approx(off * ratio * drone_hz, rel=0.01)


@cache
def driven(branches: SideBranch | None, outing: int) -> Findings:
    spec = DriveSpec(exhaust=(Resonator(frequency_hz=DRONE_HZ, gain=3.0, q=9.0),), branch=branches)
    return find_drone(generate(spec, seed=17, outing=outing).drive())


@pytest.fixture(scope="module")
def baseline() -> Findings:
    return driven(None, 0)


@pytest.mark.parametrize("off", [-0.08, 0.07])
def test_a_trim_as_told_brings_the_branch_onto_the_drone(baseline: Findings, off: float) -> None:
    tuned_hz = DRONE_HZ * (1.0 + off)
    postfix = driven(SideBranch(tuned_hz=tuned_hz), 1)
    built = built_for(tuned_hz, temperature_k=430.0)
    advice = advise_trims(baseline, postfix, (built,))
    assert advice.doubts == ()
    (trim,) = advice.trims
    assert trim.is_worth_it
    assert trim.gas_temperature_k == pytest.approx(430.0, abs=10.0)
    trimmed = replace(built, length_m=built.length_m - trim.cut_m)
    assert trimmed.tuned_hz(430.0) == pytest.approx(built.wanted_hz, rel=0.01)
    assert trim.ci95_m.low < trim.cut_m < trim.ci95_m.high
    assert (trim.cut_m > 0.0) == (off < 0.0)


def built_for(tuned_hz: float, temperature_k: float) -> BuiltBranch:
    """A branch that works there with such gas, and should work at the drone."""
    rough = BuiltBranch(length_m=0.9, end_correction_m=0.01, bore_m=0.054, wanted_hz=tuned_hz)
    return replace(rough, length_m=rough.right_length_m(temperature_k), wanted_hz=DRONE_HZ)


BUILT_WARM = (built_for(DRONE_HZ, 430.0),)


def test_a_branch_that_is_right_is_left_alone(baseline: Findings) -> None:
    postfix = driven(NEARLY_RIGHT, 1)
    (trim,) = advise_trims(baseline, postfix, (built_for(DRONE_HZ, 430.0),)).trims
    assert not trim.is_worth_it


def test_without_a_branch_nothing_is_told_to_cut(baseline: Findings) -> None:
    advice = advise_trims(baseline, driven(None, 1), (built_for(DRONE_HZ, 430.0),))
    assert advice.trims == ()
    assert [doubt.code for doubt in advice.doubts] == ["trim_unknown"]


def test_a_length_that_no_gas_explains_is_said(baseline: Findings) -> None:
    postfix = driven(NEARLY_RIGHT, 1)
    short = replace(built_for(DRONE_HZ, 430.0), length_m=0.3)
    advice = advise_trims(baseline, postfix, (short,))
    assert advice.trims == ()
    assert "no gas explains" in advice.doubts[0].message


@pytest.mark.parametrize(("gas_k", "too"), [(270.0, "cold"), (640.0, "hot")])
def test_no_trim_rests_on_gas_that_cannot_be(baseline: Findings, gas_k: float, too: str) -> None:
    """Colder than the air under a warm car, or hotter than the hottest branch of a warm pipe."""
    postfix = driven(NEARLY_RIGHT, 1)
    advice = advise_trims(baseline, postfix, (built_for(NEARLY_RIGHT.tuned_hz, gas_k),))
    assert advice.trims == ()
    (doubt,) = advice.doubts
    assert doubt.code == "built_does_not_fit"
    assert f"too {too} to be believed" in doubt.message


@pytest.mark.parametrize("past_k", [-4.0, 4.0])
def test_gas_just_past_what_is_credible_is_believed(past_k: float) -> None:
    """Its own interval reaches back: as many branches in hot gas are found above it as below."""
    (built,) = BUILT_WARM
    credible_k = credible_gas_k(None, built)
    edge_k = credible_k.low if past_k < 0.0 else credible_k.high
    found_k = edge_k + past_k
    near = replace(
        TRIM,
        gas_temperature_k=found_k,
        gas_temperature_ci95_k=Interval(low=found_k - 8.0, high=found_k + 8.0),
    )
    assert believed(TrimAdvice(trims=(near,)), BUILT_WARM, None).trims == (near,)
    farther = replace(
        near,
        gas_temperature_ci95_k=Interval(low=found_k - 2.0, high=found_k + 2.0),
    )
    assert believed(TrimAdvice(trims=(farther,)), BUILT_WARM, None).trims == ()


@pytest.mark.parametrize(("found_c", "is_told"), [(249.0, True), (338.0, True), (520.0, False)])
def test_hot_gas_that_the_sizing_counts_is_believed_up_to_that_of_the_pipe(
    found_c: float, is_told: bool
) -> None:
    """In a car of known sections, 450 degC at the collector, within 40 K: nothing is hotter."""
    car = read_car(CAR_FILE)
    drone = make_band(3.0, 2240.0)
    request = request_for_bands(make_findings([], [drone]), [drone], car, SizeWishes())
    built = replace(BUILT_WARM[0], position_m=0.44)
    found_k = 273.15 + found_c
    trim = replace(
        TRIM,
        gas_temperature_k=found_k,
        gas_temperature_ci95_k=Interval(low=found_k - 2.0, high=found_k + 2.0),
    )
    advice = believed(TrimAdvice(trims=(trim,)), (built,), request)
    assert bool(advice.trims) is is_told
    assert bool(advice.doubts) is not is_told


def test_a_branch_built_as_told_at_its_place_keeps_its_own_frequency() -> None:
    told = sizing(branch(0.74, position_m=1.48, hz=118.0))
    (as_told,) = built_branches(sized_branches(told), ()).branches
    (otherwise,) = built_branches(sized_branches(told), (0.80,)).branches
    assert as_told.wanted_hz == 118.0
    assert otherwise.wanted_hz == told.target.peak_hz
    (anywhere,) = built_branches(
        sized_branches(sizing(branch(0.74, position_m=None, hz=118.0))), ()
    ).branches
    assert anywhere.wanted_hz == told.target.peak_hz
