"""Plane waves in a line of short tubes: exact wall losses, mean flow, packing, radiation.

Losses are the low-reduced-frequency solution with Bessel functions (Zwikker and Kosten, 1949;
Tijdeman, J. Sound Vib. 39, 1975). A line is cut into short tubes, each at its own temperature.
Matrices [shape=(n_frequency, 2, 2)] relate pressure and volume velocity, exp(+j omega t).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import NDArray
from scipy.special import jve

from tests.garage.gas import PRANDTL, FloatArray, State, state

ComplexArray = NDArray[np.complex128]

_FAR = 20.0


def _series(terms: int = 12) -> FloatArray:
    """Coefficients of (j / z)^k in j J1(z) / J0(z) far from zero: Hankel's series, divided.

    Abramowitz and Stegun, 9.2.5 to 9.2.10, from memory.
    """
    k = np.arange(1, terms)
    first, zeroth = (
        np.cumprod([1.0, *(4.0 * order**2 - (2.0 * k - 1.0) ** 2) / (8.0 * k)]) for order in (1, 0)
    )
    ratio: list[float] = []
    for n in range(terms):
        ratio.append(first[n] - sum(zeroth[n - m] * ratio[m] for m in range(n)))
    return np.array(ratio)


_RATIO = _series()


def tube(
    frequency_hz: FloatArray,
    *,
    radius_m: float,
    length_m: float,
    temperature_c: float,
    packing_np_m: float = 0.0,
    mach: FloatArray | float = 0.0,
) -> ComplexArray:
    """One short tube; ``mach`` may go with frequency."""
    gas = state(np.asarray(temperature_c))
    omega = 2.0 * np.pi * frequency_hz
    propagation, impedance = _wave(omega, radius_m, gas)
    # Packing slows the wave as well as it damps it; a share of a third is an assumption.
    propagation = propagation + packing_np_m * (1.0 + 0.33j)
    squeezed = propagation / (1.0 - np.square(mach))
    phase = squeezed * length_m
    carried = np.exp(-np.asarray(mach) * phase.imag * 1j)
    cosh, sinh = np.cosh(phase) * carried, np.sinh(phase) * carried
    return _matrix(cosh, impedance * sinh, sinh / impedance, cosh)


def series(impedance: ComplexArray) -> ComplexArray:
    """Something in the way of the flow, as a resistance or a mass."""
    one = np.ones_like(impedance)
    return _matrix(one, impedance, np.zeros_like(impedance), one)


def shunt(admittance: ComplexArray) -> ComplexArray:
    """Something beside the flow."""
    one = np.ones_like(admittance)
    return _matrix(one, np.zeros_like(admittance), admittance, one)


def through(pieces: list[ComplexArray]) -> ComplexArray:
    """Pieces one behind the other."""
    whole = pieces[0]
    for piece in pieces[1:]:
        whole = whole @ piece
    return whole


def radiation_impedance(
    frequency_hz: FloatArray, radius_m: float, temperature_c: float
) -> ComplexArray:
    """Unflanged open end. Norris and Sheng, J. Sound Vib. 135 (1989) 85; from memory."""
    gas = state(np.asarray(temperature_c))
    x = 2.0 * np.pi * frequency_hz / gas.speed_m_s * radius_m
    size = (1.0 + 0.2 * x - 0.084 * x**2) / (1.0 + 0.2 * x + 0.416 * x**2)
    longer = (0.6133 + 0.027 * x**2) / (1.0 + 0.19 * x**2)
    back = -size * np.exp(-2j * x * longer)
    return np.asarray(_characteristic(gas, radius_m) * (1.0 + back) / (1.0 - back))


def mass(
    frequency_hz: FloatArray, radius_m: float, length_m: float, temperature_c: float
) -> ComplexArray:
    """Impedance of a plug of gas; the length may be negative."""
    density = state(np.asarray(temperature_c)).density_kg_m3
    return np.asarray(2j * np.pi * frequency_hz * density * length_m / (np.pi * radius_m**2))


def characteristic(radius_m: float, temperature_c: float) -> float:
    """Density times speed of sound over the area."""
    return float(_characteristic(state(np.asarray(temperature_c)), radius_m))


def _characteristic(gas: State, radius_m: float) -> FloatArray:
    return gas.density_kg_m3 * gas.speed_m_s / (np.pi * radius_m**2)


def _wave(omega: FloatArray, radius_m: float, gas: State) -> tuple[ComplexArray, ComplexArray]:
    """Propagation constant (1/m) and characteristic impedance with losses."""
    argument = radius_m * np.sqrt(-1j * omega / gas.viscosity_m2_s)
    viscous, thermal = slip(argument), slip(argument * np.sqrt(PRANDTL))
    area = np.pi * radius_m**2
    along = 1j * omega * gas.density_kg_m3 / area / (1.0 - viscous)
    stiff = gas.density_kg_m3 * gas.speed_m_s**2
    beside = 1j * omega * area / stiff * (1.0 + (gas.heat_ratio - 1.0) * thermal)
    root = np.sqrt(along * beside)
    propagation = np.where(root.real < 0.0, -root, root)
    return propagation, along / propagation


def slip(argument: ComplexArray) -> ComplexArray:
    """``2 J1(z) / (z J0(z))`` for z below the real axis.

    Far from zero by a series that is as exact there and takes a tenth of the time; the wave that
    runs the other way is below 1e-12 of it.
    """
    if np.abs(argument).min() < _FAR:
        return np.asarray(2.0 * jve(1, argument) / (argument * jve(0, argument)))
    back = 1j / argument
    return np.asarray(-2.0 * back * polyval(back, _RATIO))


def _matrix(a: ComplexArray, b: ComplexArray, c: ComplexArray, d: ComplexArray) -> ComplexArray:
    rows = np.broadcast_arrays(a, b, c, d)
    return np.stack(rows, axis=-1).reshape(*rows[0].shape, 2, 2).astype(np.complex128)
