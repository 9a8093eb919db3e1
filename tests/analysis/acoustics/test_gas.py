"""Speed of sound against Cramer's table and Cantera; transport against Cantera."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.acoustics import gas
from analysis.errors import QuantityError

# degC: dry, 50 %, 100 % relative humidity at 101.325 kPa and 400 ppm CO2, m/s: the polynomial of
# Cramer, J. Acoust. Soc. Am. 93 (1993) 2510, worked out apart from this code.
CRAMER = {
    0: (331.448, 331.604, 331.759),
    10: (337.459, 337.781, 338.103),
    20: (343.360, 343.987, 344.614),
    30: (349.148, 350.310, 351.470),
}

# degC, m/s, gamma: frozen stoichiometric products of CH1.87, Cantera 3.2, gri30.yaml.
CANTERA = [
    (20, 339.66, 1.373), (100, 381.74, 1.363), (200, 427.94, 1.350), (300, 468.95, 1.339),
    (400, 506.00, 1.327), (500, 539.96, 1.316), (600, 571.51, 1.305), (900, 656.73, 1.283),
]  # fmt: skip

# degC, m2/s at 101.325 kPa: the same, mixture-averaged transport.
CANTERA_VISCOSITY = [(20, 1.357e-5), (200, 3.205e-5), (400, 5.924e-5), (600, 9.255e-5)]


@pytest.mark.parametrize("celsius", CRAMER)
def test_humid_air_is_cramers_to_5_mm_a_second(celsius: int) -> None:
    for humidity, printed in zip((0.0, 0.5, 1.0), CRAMER[celsius], strict=True):
        speed = gas.humid_air_speed_of_sound_m_s(celsius, humidity)
        assert speed == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(("celsius", "speed_m_s", "gamma"), CANTERA)
def test_exhaust_is_canteras_to_half_a_per_mille(
    celsius: float, speed_m_s: float, gamma: float
) -> None:
    ours = gas.exhaust_gas(celsius + 273.15)
    assert ours.speed_of_sound_m_s == pytest.approx(speed_m_s, rel=5e-4)
    assert ours.heat_capacity_ratio == pytest.approx(gamma, abs=6e-4)


@pytest.mark.parametrize(("celsius", "viscosity_m2_s"), CANTERA_VISCOSITY)
def test_viscosity_is_canteras_to_2_per_cent(celsius: float, viscosity_m2_s: float) -> None:
    ours = gas.exhaust_gas(celsius + 273.15).kinematic_viscosity_m2_s
    assert ours == pytest.approx(viscosity_m2_s, rel=0.02)


def test_exhaust_sounds_like_cold_air_at_26_degc() -> None:
    # Cantera 3.2: 342.9 m/s (1125 ft/s, the hand method's) at 25.8 degC.
    assert gas.exhaust_temperature_k(342.9) - 273.15 == pytest.approx(25.8, abs=0.1)


@given(st.floats(gas.COLDEST_K, gas.HOTTEST_K))
def test_temperature_from_speed_inverts_speed_from_temperature(temperature_k: float) -> None:
    speed = float(gas.exhaust_gas(temperature_k).speed_of_sound_m_s)
    # The polynomials' two halves meet at 1000 K to 1e-4 K, no closer.
    assert gas.exhaust_temperature_k(speed) == pytest.approx(temperature_k, abs=1e-3)


def test_speed_rises_with_temperature_without_a_step_at_1000_k() -> None:
    speeds = gas.exhaust_gas(np.linspace(gas.COLDEST_K, gas.HOTTEST_K, 951)).speed_of_sound_m_s
    steps = np.diff(speeds)
    assert steps.min() > 0.0
    assert np.abs(np.diff(steps)).max() < 0.01


@pytest.mark.parametrize("temperature_k", [0.0, 249.0, 1201.0, float("nan")])
def test_impossible_gas_is_refused(temperature_k: float) -> None:
    with pytest.raises(QuantityError, match="degC"):
        gas.exhaust_gas(temperature_k)


def test_impossible_speed_is_refused() -> None:
    with pytest.raises(QuantityError, match="speed of sound"):
        gas.exhaust_temperature_k(100.0)
