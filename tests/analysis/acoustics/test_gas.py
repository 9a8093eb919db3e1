"""Speed of sound and transport against Cantera."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest

from analysis.acoustics import gas
from analysis.errors import QuantityError

# degC, m/s, gamma: frozen stoichiometric products of CH1.87, Cantera 3.2, gri30.yaml.
CANTERA = [
    (20, 339.66, 1.373), (100, 381.74, 1.363), (200, 427.94, 1.350), (300, 468.95, 1.339),
    (400, 506.00, 1.327), (500, 539.96, 1.316), (600, 571.51, 1.305), (900, 656.73, 1.283),
]  # fmt: skip

# degC, m2/s at 101.325 kPa: the same, mixture-averaged transport.
CANTERA_VISCOSITY = [(20, 1.357e-5), (200, 3.205e-5), (400, 5.924e-5), (600, 9.255e-5)]


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
    assert gas.exhaust_gas(25.8 + 273.15).speed_of_sound_m_s == pytest.approx(342.9, abs=0.1)


def test_speed_rises_with_temperature_without_a_step_at_1000_k() -> None:
    speeds = gas.exhaust_gas(np.linspace(gas.COLDEST_K, gas.HOTTEST_K, 951)).speed_of_sound_m_s
    steps = np.diff(speeds)
    assert steps.min() > 0.0
    assert np.abs(np.diff(steps)).max() < 0.01


@pytest.mark.parametrize("temperature_k", [0.0, 249.0, 1201.0, float("nan")])
def test_impossible_gas_is_refused(temperature_k: float) -> None:
    with pytest.raises(QuantityError, match=r"-23 °C .* and 927 °C"):
        gas.exhaust_gas(temperature_k)
