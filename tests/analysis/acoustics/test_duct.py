"""Ducts and side branches against textbooks, finite elements and independent solvers."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from scipy.special import jv

from analysis.acoustics import duct
from analysis.acoustics.end_correction import junction_correction_m
from analysis.acoustics.gas import Gas, exhaust_gas


def ideal_gas(speed_m_s: float) -> Gas:
    """No friction, no heat: what the lossless formulas of the textbooks take."""
    return Gas(
        speed_of_sound_m_s=np.array(speed_m_s),
        kinematic_viscosity_m2_s=np.array(0.0),
        heat_capacity_ratio=np.array(1.4),
        prandtl=0.71,
    )


GAS = ideal_gas(400.0)
ANY_BORE_M = 0.05


def ideal_branch(frequency_hz: float, tuned_hz: float, area_ratio: float) -> duct.Matrix:
    propagation = duct.propagation_per_m(np.array([frequency_hz]), GAS, ANY_BORE_M)
    length_m = float(GAS.speed_of_sound_m_s) / (4.0 * tuned_hz)
    return duct.shunt(duct.closed_branch_admittance(np.tanh(propagation * length_m), area_ratio))


def ideal_loss_db(
    frequency_hz: float, branches: list[tuple[float, float]], spacing_m: float = 0.0
) -> float:
    """Loss of one or two branches, each (tuned frequency, ratio of areas)."""
    along = duct.propagation_per_m(np.array([frequency_hz]), GAS, ANY_BORE_M)
    whole = ideal_branch(frequency_hz, *branches[0])
    for branch in branches[1:]:
        whole = whole @ duct.duct(along, spacing_m) @ ideal_branch(frequency_hz, *branch)
    return float(duct.transmission_loss_db(whole)[0])


# Ratio of areas: loss at 0.5, 0.8, 0.9 and 0.95 of the tuned frequency, dB, worked out from
# 10 lg(1 + (m/2)^2 tan^2 kL): Munjal, Acoustics of Ducts and Mufflers (1987), ch. 2.
SINGLE = {
    0.25: (0.0673, 0.5994, 2.1028, 5.4687),
    0.5625: (0.3306, 2.4285, 6.1839, 11.3896),
    0.75: (0.5714, 3.6773, 8.1993, 13.7481),
    1.0: (0.9691, 5.2738, 10.4004, 16.1660),
    1.5: (1.9382, 8.0127, 13.6965, 19.6291),
}


@pytest.mark.parametrize("area_ratio", SINGLE)
def test_single_branch_is_the_textbooks(area_ratio: float) -> None:
    for relative, printed_db in zip((0.5, 0.8, 0.9, 0.95), SINGLE[area_ratio], strict=True):
        for side in (relative, 2.0 - relative):  # the curve is even about the tune
            ours_db = ideal_loss_db(100.0 * side, [(100.0, area_ratio)])
            assert ours_db == pytest.approx(printed_db, abs=6e-5)


@pytest.mark.parametrize(
    ("area_ratio", "loss_db"),
    # Where tan kL = 1, Beranek and Ver, Noise and Vibration Control Engineering (1992), fig. 10.11.
    [(0.25, 0.0673), (0.5, 0.2633), (1, 0.9691), (2, 3.0103), (4, 6.9897), (8, 12.3045)],
)
def test_points_of_beranek_and_vers_figure(area_ratio: float, loss_db: float) -> None:
    assert ideal_loss_db(50.0, [(100.0, area_ratio)]) == pytest.approx(loss_db, abs=6e-5)


def test_a_branch_does_nothing_at_twice_its_tune() -> None:
    assert ideal_loss_db(200.0, [(100.0, 1.0)]) == pytest.approx(0.0, abs=1e-9)


# f, tunes, ratios, spacing, loss: shunt open stubs in scikit-rf (media.DefinedGammaZ0, |S21|).
SCIKIT_RF = [
    (100, (110,), (1,), 0.0, 11.1706),
    (90, (100,), (0.5625,), 0.0, 6.1839),
    (100, (95, 105), (0.5625, 0.5625), 0.0, 0.5260),
    (100, (95, 105), (0.5625, 0.5625), 0.25, 20.4182),
    (100, (95, 105), (0.5625, 0.5625), 1.00, 28.4581),
    (100, (95, 105), (0.5625, 0.5625), 2.00, 0.5260),
    (85, (90, 110), (1, 0.5), 0.5, 10.3454),
    (100, (90, 110), (1, 1), 0.0, 1.4986),
    (100, (90, 110), (1, 1), 1.00, 26.3329),
]


@pytest.mark.parametrize(("frequency_hz", "tunes_hz", "ratios", "spacing_m", "loss_db"), SCIKIT_RF)
def test_branches_are_stubs_on_a_line(
    frequency_hz: float,
    tunes_hz: tuple[float, ...],
    ratios: tuple[float, ...],
    spacing_m: float,
    loss_db: float,
) -> None:
    ours_db = ideal_loss_db(frequency_hz, list(zip(tunes_hz, ratios, strict=True)), spacing_m)
    assert ours_db == pytest.approx(loss_db, abs=6e-5)


def test_stubs_on_a_line_live_against_scikit_rf() -> None:
    skrf = pytest.importorskip("skrf", reason="scikit-rf is not installed; frozen values stand in")
    at = skrf.Frequency(85.0, 110.0, 6, unit="Hz")
    k = 2.0 * np.pi * at.f / 400.0

    def stub(tuned_hz: float, ratio: float) -> object:
        media = skrf.media.DefinedGammaZ0(at, gamma=1j * k, z0=50.0 / ratio)
        end = media.line(100.0 / tuned_hz, "m") ** media.open()
        end.renormalize(50.0)
        return main.shunt(end)

    main = skrf.media.DefinedGammaZ0(at, gamma=1j * k, z0=50.0)
    network = stub(95.0, 0.5) ** main.line(0.4, "m") ** stub(105.0, 1.0)
    theirs_db = -20.0 * np.log10(np.abs(network.s[:, 1, 0]))
    ours_db = [ideal_loss_db(f, [(95.0, 0.5), (105.0, 1.0)], 0.4) for f in at.f]
    assert ours_db == pytest.approx(theirs_db, abs=1e-9)


@given(st.floats(0.05, 4.0), st.floats(0.0, np.pi))
def test_opposite_branches_follow_the_closed_form(susceptance: float, phase: float) -> None:
    # Own derivation: 10 lg[cos^2 t + (1 + b^2/2)^2 sin^2 t] for susceptances +b and -b.
    one, other = (np.array([s * 1j * susceptance]) for s in (1.0, -1.0))
    along = duct.duct(np.array([1j]), phase)
    ours_db = duct.transmission_loss_db(duct.shunt(one) @ along @ duct.shunt(other))
    power = np.cos(phase) ** 2 + (1.0 + susceptance**2 / 2.0) ** 2 * np.sin(phase) ** 2
    assert ours_db[0] == pytest.approx(10.0 * np.log10(power), abs=1e-9)


def test_two_tunes_at_one_station_cancel_half_way() -> None:
    assert ideal_loss_db(100.0, [(95.0, 0.5625), (105.0, 0.5625)]) == pytest.approx(0.526, abs=5e-4)
    assert ideal_loss_db(100.0, [(100.001, 0.5625)]) > 50.0


def test_tee_in_three_dimensions() -> None:
    # Helmholtz finite elements of a tee (ratio of bores 0.75, L = 30 radii), made for this project
    # with gmsh and scikit-fem; frequencies relative to the tune with the element's correction.
    relative = np.array([0.8, 0.9, 0.95, 0.99, 1.05, 1.1])
    fem_db = np.array([2.424, 6.177, 11.381, 25.057, 11.387, 6.182])
    ours_db = [ideal_loss_db(100.0 * x, [(100.0, 0.75**2)]) for x in relative]
    assert ours_db == pytest.approx(fem_db, abs=0.05)


def test_tune_of_a_tee_in_an_independent_solver() -> None:
    # OpenWind 0.12: pipe 60.5 mm, branch 47.5 mm by 850 mm, no losses, 343.988 m/s: 99.840 Hz.
    length_m = 0.850 + junction_correction_m(0.0475, 0.0605)
    tuned_hz = duct.quarter_wave_hz(length_m, ideal_gas(343.988), 0.0475)
    assert tuned_hz == pytest.approx(99.840, rel=1.5e-3)


# Air at 20 degC, 50 % humidity, as OpenWind 0.12.4 takes it.
AIR = Gas(
    speed_of_sound_m_s=np.array(343.987773),
    kinematic_viscosity_m2_s=np.array(1.8206e-5 / 1.19929015),
    heat_capacity_ratio=np.array(1.40108294),
    prandtl=1.8206e-5 * 1012.25307 / 0.025562,
)


def exact_closed_tube(frequency_hz: float, gas: Gas, bore_m: float, length_m: float) -> complex:
    """Input impedance over rho c / S with Bessel functions: Zwikker and Kosten (1949)."""
    omega, radius = 2.0 * np.pi * frequency_hz, bore_m / 2.0
    viscous = radius * np.sqrt(-1j * omega / gas.kinematic_viscosity_m2_s)
    thermal = viscous * np.sqrt(gas.prandtl)

    def mean(x: NDArray[np.complex128]) -> NDArray[np.complex128]:
        return np.asarray(2.0 * jv(1, x) / (x * jv(0, x)))

    series = 1.0 / (1.0 - mean(viscous))
    parallel = 1.0 + (gas.heat_capacity_ratio - 1.0) * mean(thermal)
    gamma = 1j * omega / gas.speed_of_sound_m_s * np.sqrt(series * parallel)
    return complex(np.sqrt(series / parallel) / np.tanh(gamma * length_m))


def test_the_exact_form_is_openwinds() -> None:
    # OpenWind 0.12.4, closed tube 0.8584 m by 47.8 mm, losses 'bessel'.
    ours = abs(exact_closed_tube(99.506, AIR, 0.0478, 0.8584))
    assert ours == pytest.approx(0.010688044572, rel=1e-6)


def test_wide_tube_is_near_the_exact_form() -> None:
    best = minimize_scalar(
        lambda f: abs(exact_closed_tube(f, AIR, 0.0478, 0.8584)),
        bounds=(97.0, 102.0),
        method="bounded",
    )
    tuned_hz = float(duct.quarter_wave_hz(0.8584, AIR, 0.0478))
    assert tuned_hz == pytest.approx(best.x, rel=5e-4)
    propagation = duct.propagation_per_m(tuned_hz, AIR, 0.0478)
    admittance = duct.closed_branch_admittance(np.tanh(propagation * 0.8584), 1.0)
    assert 1.0 / abs(complex(admittance)) == pytest.approx(best.fun, rel=0.015)


@pytest.mark.parametrize(
    ("celsius", "frequency_hz", "bore_mm", "alpha", "lowered"),
    # Kirchhoff's formula worked by hand with Cantera's gas: alpha in Np/m, f / f lossless.
    [
        (200, 100, 47.8, 0.01389, 0.9906),
        (400, 60, 47.8, 0.01214, 0.9838),
        (400, 100, 47.8, 0.01567, 0.9875),
        (400, 100, 35.1, 0.02134, 0.9831),
        (400, 150, 60.5, 0.01516, 0.9919),
    ],
)
def test_wall_loss_in_exhaust_gas(
    celsius: float, frequency_hz: float, bore_mm: float, alpha: float, lowered: float
) -> None:
    gas = exhaust_gas(celsius + 273.15)
    assert duct.propagation_per_m(frequency_hz, gas, bore_mm / 1e3).real == pytest.approx(
        alpha, rel=0.01
    )
    lossless_m = float(gas.speed_of_sound_m_s) / (4.0 * frequency_hz)
    assert duct.quarter_wave_hz(lossless_m, gas, bore_mm / 1e3) / frequency_hz == pytest.approx(
        lowered, abs=2e-4
    )


@given(st.floats(20.0, 400.0), st.floats(0.02, 0.1), st.floats(280.0, 1000.0))
def test_length_and_tune_invert_each_other(
    tuned_hz: float, bore_m: float, temperature_k: float
) -> None:
    gas = exhaust_gas(temperature_k)
    length_m = duct.quarter_wave_length_m(tuned_hz, gas, bore_m)
    assert duct.quarter_wave_hz(length_m, gas, bore_m) == pytest.approx(tuned_hz, rel=1e-12)


@given(st.floats(0.3, 2.0), st.floats(1.001, 1.2))
def test_a_longer_branch_tunes_lower(length_m: float, factor: float) -> None:
    gas = exhaust_gas(450.0)
    longer_hz = duct.quarter_wave_hz(factor * length_m, gas, 0.05)
    assert longer_hz < duct.quarter_wave_hz(length_m, gas, 0.05)


@given(st.floats(0.1, 1.0), st.floats(0.0, 0.1))
def test_resistance_holds_the_peak(area_ratio: float, resistance: float) -> None:
    # 20 lg[1 + m / 2 (r + 1/Re)]: only resistances are left at the tune.
    gas = exhaust_gas(500.0)
    length_m = duct.quarter_wave_length_m(100.0, gas, 0.05)
    propagation = duct.propagation_per_m(np.array([100.0]), gas, 0.05)
    branch = duct.closed_branch_admittance(np.tanh(propagation * length_m), area_ratio, resistance)
    peak_db = duct.transmission_loss_db(duct.shunt(branch))[0]
    wall = np.tanh(propagation[0].real * length_m)
    expected_db = 20.0 * np.log10(1.0 + area_ratio / (2.0 * (resistance + wall)))
    assert peak_db == pytest.approx(expected_db, abs=1e-6)
