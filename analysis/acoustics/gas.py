"""Exhaust gas as the acoustics needs it: speed of sound, viscosity.

Exhaust gas is the frozen product of complete, stoichiometric combustion of gasoline (CH1.87) in
dry air, an ideal gas. Lean, rich or ethanol mixtures move its speed of sound by up to 1.3 %;
10 K move it by 1 %.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.basics.arrays import FloatArray
from analysis.errors import QuantityError
from analysis.words.quantities import temperature_both

# judgement: nothing in a car's exhaust is colder or hotter; outside, the fits to the data below no
# longer hold, so it is refused.
COLDEST_K, HOTTEST_K = 250.0, 1200.0

_GAS_CONSTANT = 8.31446261815324  # J/(mol K), exact in the SI of 2019
# standard atmosphere, ISO 2533; only wall losses feel it, 20 % moves a length 20 mm
PRESSURE_PA = 101_325.0

# NASA-7 polynomials of cp/R, below and above 1000 K: GRI-Mech 3.0 thermodynamic data
# (Smith et al.), as shipped with Cantera 3.2. Nitrogen's start at 300 K; 250 K is a mild reach.
_CP_OVER_R = {
    "N2": (
        (3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12),
        (2.92664, 1.4879768e-3, -5.68476e-7, 1.0097038e-10, -6.753351e-15),
    ),
    "CO2": (
        (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13),
        (3.85746029, 4.41437026e-3, -2.21481404e-6, 5.23490188e-10, -4.72084164e-14),
    ),
    "H2O": (
        (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12),
        (3.03399249, 2.17691804e-3, -1.64072518e-7, -9.7041987e-11, 1.68200992e-14),
    ),
    "Ar": ((2.5, 0.0, 0.0, 0.0, 0.0), (2.5, 0.0, 0.0, 0.0, 0.0)),
}
_MOLAR_MASS_KG = {"N2": 28.0134e-3, "CO2": 44.0095e-3, "H2O": 18.01528e-3, "Ar": 39.948e-3}
_HYDROGEN_PER_CARBON = 1.87
_DRY_AIR = {"N2": 0.7812, "O2": 0.2095, "Ar": 0.0093}  # mole fractions; CO2 and traces left out

# Sutherland's law fitted to the mixture-averaged viscosity of this gas from Cantera 3.2 (gri30):
# 1.636e-5, 2.394e-5, 3.111e-5, 3.747e-5 Pa s at 20, 200, 400, 600 degC. Within 1.1 % from 50 to
# 900 degC, 1.7 % at 20 degC; wall losses go with its square root.
_VISCOSITY_AT_300_K = 1.643e-5
_SUTHERLAND_K = 188.9
_PRANDTL = 0.71  # Cantera 3.2: 0.707 to 0.712 from 20 to 600 degC


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """A gas at rest; fields are arrays of one shape (or scalars)."""

    speed_of_sound_m_s: FloatArray
    kinematic_viscosity_m2_s: FloatArray
    heat_capacity_ratio: FloatArray
    prandtl: float

    @property
    def density_kg_m3(self) -> FloatArray:
        """From the speed of sound: ``rho = gamma P / c^2`` of an ideal gas."""
        return np.asarray(self.heat_capacity_ratio * PRESSURE_PA / self.speed_of_sound_m_s**2)

    @property
    def rho_c(self) -> FloatArray:
        """Characteristic impedance of a plane wave, Pa s/m; over an area, that of a tube."""
        return np.asarray(self.heat_capacity_ratio * PRESSURE_PA / self.speed_of_sound_m_s)

    def spread(self) -> "Gas":
        """Give the same gas one more axis at the end, for frequencies."""
        return Gas(
            speed_of_sound_m_s=self.speed_of_sound_m_s[..., np.newaxis],
            kinematic_viscosity_m2_s=self.kinematic_viscosity_m2_s[..., np.newaxis],
            heat_capacity_ratio=self.heat_capacity_ratio[..., np.newaxis],
            prandtl=self.prandtl,
        )


def exhaust_gas(temperature_k: ArrayLike) -> Gas:
    """Give the properties of exhaust gas at atmospheric pressure. Any shape.

    Raises
    ------
    QuantityError
        A temperature outside ``COLDEST_K..HOTTEST_K``.
    """
    temperature = _checked(temperature_k)
    gamma = _heat_capacity_ratio(temperature)
    specific = _GAS_CONSTANT / _EXHAUST_MOLAR_MASS_KG
    density = PRESSURE_PA / (specific * temperature)
    return Gas(
        speed_of_sound_m_s=np.sqrt(gamma * specific * temperature),
        kinematic_viscosity_m2_s=_viscosity_pa_s(temperature) / density,
        heat_capacity_ratio=gamma,
        prandtl=_PRANDTL,
    )


def _exhaust_composition() -> dict[str, float]:
    oxygen = 1.0 + _HYDROGEN_PER_CARBON / 4.0
    moles = {
        "CO2": 1.0,
        "H2O": _HYDROGEN_PER_CARBON / 2.0,
        "N2": oxygen * _DRY_AIR["N2"] / _DRY_AIR["O2"],
        "Ar": oxygen * _DRY_AIR["Ar"] / _DRY_AIR["O2"],
    }
    total = sum(moles.values())
    return {species: amount / total for species, amount in moles.items()}


_EXHAUST = _exhaust_composition()
_EXHAUST_MOLAR_MASS_KG = sum(share * _MOLAR_MASS_KG[s] for s, share in _EXHAUST.items())
# of the mixture, below and above 1000 K [shape=(2, 5)]
_EXHAUST_CP_OVER_R = np.sum(
    [share * np.array(_CP_OVER_R[s]) for s, share in _EXHAUST.items()], axis=0
)


def _heat_capacity_ratio(temperature_k: FloatArray) -> FloatArray:
    below, above = np.polynomial.polynomial.polyval(temperature_k, _EXHAUST_CP_OVER_R.T)
    cp_over_r: FloatArray = np.where(temperature_k < 1000.0, below, above)
    return cp_over_r / (cp_over_r - 1.0)


def _viscosity_pa_s(temperature_k: FloatArray) -> FloatArray:
    ratio = temperature_k / 300.0
    return (
        _VISCOSITY_AT_300_K * ratio**1.5 * (300.0 + _SUTHERLAND_K) / (temperature_k + _SUTHERLAND_K)
    )


def _checked(temperature_k: ArrayLike) -> FloatArray:
    temperature = np.asarray(temperature_k, dtype=np.float64)
    if not np.all((temperature >= COLDEST_K) & (temperature <= HOTTEST_K)):
        raise QuantityError(
            f"exhaust gas must be between {temperature_both(COLDEST_K)} and "
            f"{temperature_both(HOTTEST_K)} to be worked out; check the temperature"
        )
    return temperature
