"""Gas in fibrous packing, and in the fine channels of a catalyst: waves that friction holds back.

Each gives what the filling does to a wave, as two ratios to the open gas: of the propagation
constant and of the characteristic impedance. Time dependence exp(+j omega t).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.acoustics.gas import Gas
from analysis.basics.arrays import ComplexArray, FloatArray

# Miki, J. Acoust. Soc. Jpn. (E) 11 (1990) 19, coefficients from memory, for f over resistivity in
# m3/kg of air: with them the low-frequency bulk modulus comes out isothermal, as it must.
_PROPAGATION, _PROPAGATION_POWER = 0.1093 - 0.1597j, -0.618
_IMPEDANCE, _IMPEDANCE_POWER = 0.0699 - 0.1071j, -0.632
# Air at 20 degC and one atmosphere, for which the law and resistivities are told (Kaye and Laby,
# from memory); 20 % more moves a wave in packing by 10 %, far less than packings differ.
_AIR_KG_M3, _AIR_PA_S = 1.204, 1.82e-5
# Levels of the continued fraction; a definition: twelve give 1e-8 up to a shear number of 8, which
# no catalyst passes below 300 Hz.
_LEVELS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """Ratios to the open gas, broadcast as (member, frequency).

    ``propagation`` of the propagation constants, ``impedance`` of the characteristic impedances
    (pressure over velocity in the channels or pores).
    """

    propagation: ComplexArray
    impedance: ComplexArray


def packed(frequency_hz: FloatArray, gas: Gas, resistivity: FloatArray) -> Filling:
    """Fibrous packing of this flow resistivity, Pa s/m2 in air at 20 degC; none leaves the gas.

    Source: Miki (1990), after Delany and Bazley (1970), in terms of density times frequency over
    resistivity, so that it holds for hot gas; the resistivity goes with the gas's viscosity.
    Packing is rigid.

    Parameters
    ----------
    gas : with an axis for frequencies
    resistivity : float >= 0, broadcasts as (member, frequency)
    """
    thicker = gas.kinematic_viscosity_m2_s * gas.density_kg_m3 / _AIR_PA_S
    resisting = resistivity * thicker / (gas.density_kg_m3 / _AIR_KG_M3)

    # raised one by one: far fewer powers than of all pairs
    def ratio(factor: complex, power: float) -> ComplexArray:
        return np.asarray(1.0 + factor * frequency_hz**power * resisting ** (-power))

    return Filling(
        propagation=ratio(_PROPAGATION, _PROPAGATION_POWER),
        impedance=ratio(_IMPEDANCE, _IMPEDANCE_POWER),
    )


def in_channels(frequency_hz: FloatArray, gas: Gas, channel_m: FloatArray) -> Filling:
    """Fine straight channels of this hydraulic diameter, taken as round.

    Source: Zwikker and Kosten, Sound Absorbing Materials (1949), ch. 2; as used for monoliths by
    Dokumaci, J. Sound Vib. 182 (1995), from memory.

    Parameters
    ----------
    gas : with an axis for frequencies
    """
    shear_square = 2.0 * np.pi * frequency_hz * channel_m**2 / (4.0 * gas.kinematic_viscosity_m2_s)
    gamma = gas.heat_capacity_ratio
    inertia = 1.0 / (1.0 - _held_by_wall(shear_square))
    give = 1.0 + (gamma - 1.0) * _held_by_wall(shear_square * gas.prandtl)
    return Filling(propagation=np.sqrt(inertia * give), impedance=np.sqrt(inertia / give))


def _held_by_wall(shear_square: FloatArray) -> ComplexArray:
    """Share of the gas that the wall holds, ``2 J1(z) / (z J0(z))``, ``z^2 = -j shear^2``.

    As a continued fraction: Abramowitz and Stegun 9.1.73, from memory.
    """
    square = -1j * shear_square
    below = np.ones_like(square)
    for level in range(_LEVELS, 0, -1):
        below = 1.0 - square / (4.0 * level * (level + 1.0)) / below
    return np.asarray(1.0 / below)
