"""Waves in packing and in fine channels."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import jv

from analysis.acoustics.gas import PRESSURE_PA, exhaust_gas
from analysis.acoustics.packing import Filling, in_channels, packed

HZ = np.array([40.0, 100.0, 250.0])
GAS = exhaust_gas(np.array([[523.15]]))
DENSITY = GAS.heat_capacity_ratio * PRESSURE_PA / GAS.speed_of_sound_m_s**2


def give_pa(filling: Filling) -> np.ndarray:
    """Bulk modulus."""
    stiff = GAS.heat_capacity_ratio * PRESSURE_PA
    return np.asarray(stiff * filling.impedance / filling.propagation)


def resistance(filling: Filling) -> np.ndarray:
    """Real part of pressure gradient over velocity, Pa s/m2."""
    return np.asarray((2j * np.pi * HZ * DENSITY * filling.propagation * filling.impedance).real)


def test_packing_resists_as_told_and_takes_up_heat() -> None:
    """Slow changes: resistivity times the rise of viscosity, and an isothermal gas."""
    filling = packed(HZ, GAS, np.array([[15_000.0]]))
    hotter = (GAS.kinematic_viscosity_m2_s * DENSITY)[0, 0] / 1.82e-5
    # Miki's law is fitted to measurements, and its resistance is known to be low at slow changes
    np.testing.assert_allclose(resistance(filling)[0], 15_000.0 * hotter, rtol=0.2)
    np.testing.assert_allclose(give_pa(filling).real, PRESSURE_PA, rtol=0.06)


def test_packing_agrees_with_the_older_law_in_its_range() -> None:
    """Delany and Bazley, Applied Acoustics 3 (1970) 105, coefficients from memory, in cold air."""
    gas = exhaust_gas(np.array([[293.15]]))
    density = gas.heat_capacity_ratio * PRESSURE_PA / gas.speed_of_sound_m_s**2
    thicker = gas.kinematic_viscosity_m2_s * density / 1.82e-5
    for share in (0.03, 0.1, 0.3):
        hz = np.array([1000.0])
        resistivity = density * hz / share / thicker
        filling = packed(hz, gas, resistivity)
        assert filling.impedance == pytest.approx(
            1.0 + 0.0571 * share**-0.754 - 0.087j * share**-0.732, rel=0.12
        )
        assert filling.propagation == pytest.approx(
            1.0 + 0.0978 * share**-0.700 - 0.189j * share**-0.595, rel=0.12
        )


def test_no_packing_is_the_gas() -> None:
    filling = packed(HZ, GAS, np.array([[0.0]]))
    np.testing.assert_array_equal(filling.propagation, np.ones((1, 3)))
    np.testing.assert_array_equal(filling.impedance, np.ones((1, 3)))


@pytest.mark.parametrize("channel_m", [0.0008, 0.0011, 0.0018])
def test_channels_agree_with_bessel_functions(channel_m: float) -> None:
    """Zwikker and Kosten's own form, with the Bessel functions of scipy."""
    filling = in_channels(HZ, GAS, np.array([[channel_m]]))
    omega, gamma = 2.0 * np.pi * HZ, GAS.heat_capacity_ratio

    def held(prandtl: float) -> np.ndarray:
        z = np.sqrt(-1j * omega * prandtl / GAS.kinematic_viscosity_m2_s) * channel_m / 2.0
        return np.asarray(2.0 * jv(1, z) / (z * jv(0, z)))

    inertia = 1.0 / (1.0 - held(1.0))
    give = 1.0 + (gamma - 1.0) * held(GAS.prandtl)
    np.testing.assert_allclose(filling.propagation**2, inertia * give, rtol=1e-8)
    np.testing.assert_allclose(filling.impedance**2, inertia / give, rtol=1e-8)


def test_narrow_channels_resist_as_poiseuille_has_it() -> None:
    """32 viscosities over the diameter squared; Hagen and Poiseuille."""
    filling = in_channels(HZ, GAS, np.array([[0.0003]]))
    viscosity = (GAS.kinematic_viscosity_m2_s * DENSITY)[0, 0]
    np.testing.assert_allclose(resistance(filling)[0], 32.0 * viscosity / 0.0003**2, rtol=1e-3)
    np.testing.assert_allclose(give_pa(filling).real, PRESSURE_PA, rtol=2e-3)
