"""Transmission loss of one or two branches on one pipe, each gas at its own temperature."""
# SPDX-License-Identifier: GPL-2.0-or-later

from numpy.typing import ArrayLike

from analysis.acoustics import duct
from analysis.acoustics.branch_shape import BranchShape
from analysis.acoustics.gas import exhaust_gas
from analysis.basics.arrays import ComplexArray, FloatArray

# Grazing flow adds a resistance of about its Mach number (0.03 to 0.07 in a car) times a
# coefficient near one to the mouth, in units of rho c ("The acoustic impedance of a wide side
# branch orifice", SAE 2009-01-2043, abstract). It holds peaks to about 20 dB. The range is a
# judgement: no measurement at a car's flow and pulsation was found.
MOUTH_RESISTANCE = 0.03
MOUTH_RESISTANCE_RANGE = (0.01, 0.05)


def branch_admittance(
    frequency_hz: ArrayLike,
    acoustic_length_m: ArrayLike,
    *,
    shape: BranchShape,
    branch_k: ArrayLike,
    pipe_bore_m: float,
    pipe_k: float,
    mouth_resistance: float = MOUTH_RESISTANCE,
) -> ComplexArray:
    """Input admittance in units of the pipe's; frequency, length and temperature broadcast."""
    gas, pipe_gas = exhaust_gas(branch_k), exhaust_gas(pipe_k)
    ratio = (shape.bore_m / pipe_bore_m) ** 2 * pipe_gas.rho_c / gas.rho_c
    tangent = shape.tangent(frequency_hz, gas, acoustic_length_m)
    return duct.closed_branch_admittance(tangent, ratio, mouth_resistance)


def loss_db(
    frequency_hz: FloatArray,
    admittances: tuple[ComplexArray, ...],
    *,
    spacing_m: float | None,
    pipe_bore_m: float,
    pipe_k: float,
) -> FloatArray:
    """Transmission loss of one branch, or of two ``spacing_m`` apart along the pipe."""
    matrix = duct.shunt(admittances[0])
    if len(admittances) == 2 and spacing_m is not None:
        along = duct.propagation_per_m(frequency_hz, exhaust_gas(pipe_k), pipe_bore_m)
        matrix = matrix @ duct.duct(along, spacing_m) @ duct.shunt(admittances[1])
    return duct.transmission_loss_db(matrix)


def quarter_wave_m(frequency_hz: float, gas_k: float) -> float:
    """Quarter of a wavelength in gas of this temperature."""
    return float(exhaust_gas(gas_k).speed_of_sound_m_s) / (4.0 * frequency_hz)
