"""A can on a neck against other codes and textbook limits; plain tubes stay what they were."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from analysis.acoustics import duct
from analysis.acoustics.branch_shape import BranchShape, shape_on
from analysis.acoustics.end_correction import widening_correction_m
from analysis.acoustics.gas import exhaust_gas
from analysis.acoustics.transmission_loss import branch_admittance, loss_db
from analysis.branches import Can, Tube
from tests.garage import waves

GAS_K = 420.0


def tube(bore_m: float) -> Tube:
    return Tube(outer_diameter_m=bore_m + 0.003, wall_m=0.0015, name="test")


def with_can(
    bore_m: float = 0.048, can_bore_m: float = 0.098, neck_m: float = 0.2, junction_m: float = 0.012
) -> BranchShape:
    return BranchShape(
        bore_m=bore_m, junction_m=junction_m, can=Can(tube=tube(can_bore_m), neck_m=neck_m)
    )


def test_two_lines_in_a_row_are_those_of_scikit_rf() -> None:
    """Outside check: scikit-rf, a short-wave line and an open wider one behind it."""
    skrf = pytest.importorskip("skrf")
    shape, acoustic_m = with_can(), 0.812
    gas = exhaust_gas(GAS_K)
    hz = np.linspace(30.0, 200.0, 35)
    frequency = skrf.Frequency.from_f(hz, unit="Hz")
    ratio = shape.area_ratio
    lines = [
        skrf.media.DefinedGammaZ0(
            frequency, gamma=duct.propagation_per_m(hz, gas, bore_m), z0=impedance
        )
        for bore_m, impedance in ((0.048, 50.0), (0.098, 50.0 / ratio))
    ]
    neck = lines[0].line(shape.neck_m, "m")
    can = lines[1].line(float(shape.can_m(acoustic_m)), "m") ** lines[1].open()
    can.renormalize(50.0)
    whole = neck**can
    outside = 50.0 * whole.y[:, 0, 0]
    np.testing.assert_allclose(shape.tangent(hz, gas, acoustic_m), outside, rtol=1e-9)


def test_a_short_can_on_a_short_neck_is_the_resonator_of_helmholtz() -> None:
    """f = c / (2 pi) sqrt(S / (V L)): Kinsler and others, Fundamentals of Acoustics, ch. 10."""
    shape = with_can(bore_m=0.02, can_bore_m=0.098, neck_m=0.04, junction_m=0.008)
    acoustic_m = 0.048 + 0.08
    gas = exhaust_gas(GAS_K)
    volume_m3 = np.pi / 4.0 * 0.098**2 * 0.08
    plug = np.pi / 4.0 * 0.02**2 / (volume_m3 * shape.neck_m)
    textbook_hz = float(gas.speed_of_sound_m_s) / (2.0 * np.pi) * np.sqrt(plug)
    assert shape.tuned_hz(acoustic_m, GAS_K) == pytest.approx(textbook_hz, rel=0.04)


def test_a_can_as_wide_as_its_neck_is_a_plain_tube() -> None:
    hz = np.linspace(40.0, 240.0, 41)
    plain = BranchShape(bore_m=0.048, junction_m=0.012)
    even = with_can(can_bore_m=0.048)
    gas = exhaust_gas(GAS_K)
    np.testing.assert_allclose(even.tangent(hz, gas, 0.9), plain.tangent(hz, gas, 0.9), rtol=1e-12)
    assert even.tuned_hz(0.9, GAS_K) == pytest.approx(plain.tuned_hz(0.9, GAS_K), rel=1e-9)


def test_it_is_tuned_where_the_loss_is_highest() -> None:
    shape, gas_k = with_can(), 430.0
    tuned_hz = shape.tuned_hz(0.812, gas_k)

    def less_loss(hz: float) -> float:
        side = branch_admittance(
            np.array([hz]), 0.812, shape=shape, branch_k=gas_k, pipe_bore_m=0.06, pipe_k=550.0
        )
        lost = loss_db(np.array([hz]), (side,), spacing_m=None, pipe_bore_m=0.06, pipe_k=550.0)
        return -float(lost[0])

    loudest = minimize_scalar(less_loss, bounds=(0.8 * tuned_hz, 1.2 * tuned_hz), method="bounded")
    assert loudest.x == pytest.approx(tuned_hz, rel=2e-3)


@pytest.mark.parametrize("neck_hotter_k", [0.0, 90.0])
def test_the_garages_waves_resonate_at_the_same_frequency(neck_hotter_k: float) -> None:
    """Outside check: exact wall losses by Bessel functions and gas from tables, other code."""
    shape, celsius = with_can(junction_m=0.0), 200.0
    fans_m = float(widening_correction_m(0.048, 0.098))

    def reactance(hz: float) -> float:
        at = np.array([hz])
        neck_c = celsius + neck_hotter_k
        neck = waves.tube(at, radius_m=0.024, length_m=0.2 + fans_m, temperature_c=neck_c)
        can = waves.tube(at, radius_m=0.049, length_m=0.6, temperature_c=celsius)
        whole = waves.through([neck, can])
        return float((whole[..., 0, 0] / whole[..., 1, 0]).imag[0])

    tuned_hz = shape.tuned_hz(0.8, celsius + 273.15, neck_hotter_k)
    plain_hz = BranchShape(bore_m=0.048, junction_m=0.0).tuned_hz(0.8, 473.15)
    assert shape.tuned_hz(0.8, 473.15) < 0.65 * plain_hz
    assert reactance(0.997 * tuned_hz) < 0.0 < reactance(1.003 * tuned_hz)


@given(
    bore_m=st.floats(0.03, 0.07),
    wider=st.floats(1.25, 3.0),
    neck_m=st.floats(0.05, 0.4),
    can_m=st.floats(0.05, 1.5),
    gas_k=st.floats(320.0, 700.0),
)
def test_length_and_frequency_are_inverses(
    bore_m: float, wider: float, neck_m: float, can_m: float, gas_k: float
) -> None:
    shape = with_can(bore_m=bore_m, can_bore_m=wider * bore_m, neck_m=neck_m)
    acoustic_m = neck_m + shape.junction_m + can_m
    tuned_hz = shape.tuned_hz(acoustic_m, gas_k)
    assert shape.acoustic_m(tuned_hz, gas_k) == pytest.approx(acoustic_m, abs=1e-6)
    assert shape.tuned_hz(acoustic_m + 0.01, gas_k) < tuned_hz


def test_above_what_the_neck_alone_is_tuned_to_no_can_is_left() -> None:
    shape = with_can()
    assert shape.acoustic_m(2000.0, GAS_K) == pytest.approx(0.212)


def test_on_a_pipe_the_junction_is_added() -> None:
    shape = shape_on(tube(0.048), None, 0.06)
    assert shape.junction_m == pytest.approx(0.0105, abs=5e-4)  # Ji (2005), see end_correction
