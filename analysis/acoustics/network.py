"""The whole exhaust as a chain of transfer matrices, and what branches do to it.

Pressure and volume velocity (p, U) at the two ends of each piece of duct are related by
``[[cosh G, Z sinh G], [sinh G / Z, cosh G]]``, ``G`` the piece's propagation constant times its
length and ``Z`` its characteristic impedance. A row vector carries the source to a place, a column
vector carries the outlet back to it; both are known at every place after one walk each way. Then
any branch, at any place, costs no more matrices: with ``g_ij`` the pressure at place j for a unit
of volume velocity put in at place i, a branch of input admittance ``Y`` at place 1 changes what
leaves the outlet by ``1 / (1 + Y g_11)``, and two by
``1 / ((1 + Y_1 g_11)(1 + Y_2 g_22) - Y_1 Y_2 g_12^2)``.

Mean flow shortens the waves by ``1 - M^2`` and turns the phase of all that leaves alike, which no
level can show, so the matrices stay reciprocal. Arrays broadcast as (place, member, frequency).
Time goes as exp(+j omega t).

Source: Munjal, Acoustics of Ducts and Mufflers (1987), ch. 2 and 3; equation numbers not quoted.
The formulas for branches follow from multiplying out the matrices.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.acoustics.duct import ComplexArray, Matrix
from analysis.basics.arrays import FloatArray, IntArray

AnyComplexArray: TypeAlias = NDArray[np.complexfloating[Any, Any]]

# Levine and Schwinger, Phys. Rev. 73 (1948) 383: added length over radius; 20 % more moves a length
# by 8 mm and the worst case by 0.8 dB.
_UNFLANGED = 0.6133
# A definition: what is left out of the series for an exponent so small is below a rounding.
_SMALL = 1.0 / 16.0
_TAYLOR = tuple(1.0 / math.factorial(order) for order in range(8, 0, -1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Pieces of duct from the source to the outlet, each after a step in series.

    Those named in ``two_port`` are none of duct: mufflers, by their matrices for p and U.
    ``phase`` (propagation constant times length) and ``impedance`` (Pa s/m3, without loss)
    [shape=(n_pieces, n_members, n_frequency)], or shapes that broadcast to it. ``step`` is the
    series impedance at the upstream end of those pieces that have one, by their numbers;
    ``reflection`` the source's, ``outlet`` the radiation impedance, all three [shape=(n_members,
    n_frequency)].
    """

    phase: AnyComplexArray
    impedance: FloatArray
    step: Mapping[int, AnyComplexArray]
    two_port: Mapping[int, Matrix]
    reflection: AnyComplexArray
    outlet: AnyComplexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """What branches need to know of each place [shape=(n_places, n_members, n_frequency)].

    Complex numbers of any precision, and so is what comes out of them.

    ``from_source`` times ``to_outlet`` at two places, upstream first, is the pressure at one for a
    unit of volume velocity at the other.
    """

    from_source: AnyComplexArray
    to_outlet: AnyComplexArray

    def transfer(self, upstream: IntArray | int, downstream: IntArray | int) -> AnyComplexArray:
        """Pressure at one place per volume velocity at another, by their numbers, Pa s/m3."""
        return np.asarray(self.from_source[upstream] * self.to_outlet[downstream])


def outlet_flow(chain: Chain) -> AnyComplexArray:
    """Volume velocity at the outlet for a unit wave from the source, [n_members, n_frequency]."""
    column = _outlet_column(chain)
    for piece in reversed(range(chain.phase.shape[0])):
        column = _before_step(chain, piece, _along(chain, piece, column))
    return np.asarray(1.0 / _received(chain, column))


def places(chain: Chain, numbers: ArrayLike) -> Places:
    """Look at the upstream ends of some pieces.

    Parameters
    ----------
    numbers : int [shape=(n_places,)]
        Which pieces.
    """
    wanted = {int(number): row for row, number in enumerate(np.asarray(numbers))}
    shape = (len(wanted), *np.broadcast_shapes(chain.phase.shape[1:], chain.outlet.shape))
    to_outlet = np.empty(shape, dtype=np.complex128)
    from_source = np.empty(shape, dtype=np.complex128)
    column = _outlet_column(chain)
    for piece in reversed(range(chain.phase.shape[0])):
        column = _along(chain, piece, column)
        if piece in wanted:
            to_outlet[wanted[piece]] = column[0]
        column = _before_step(chain, piece, column)
    direct = _received(chain, column)
    row = _source_row(chain)
    for piece in range(chain.phase.shape[0]):
        if piece in chain.step:
            row = row[0], row[0] * chain.step[piece] + row[1]
        if piece in wanted:
            # divided once here, so that each pair of places costs one product
            from_source[wanted[piece]] = row[1] / direct
        row = _row_along(chain, piece, row)
    return Places(from_source=from_source, to_outlet=to_outlet)


def insertion_one(admittance: AnyComplexArray, at_branch: AnyComplexArray) -> AnyComplexArray:
    """Outlet flow without over with one branch; arrays broadcast."""
    return np.asarray(1.0 + admittance * at_branch)


def first_of_two(admittance: AnyComplexArray, here: Places, at: int) -> NDArray[np.floating[Any]]:
    """Say what a branch brings into a pair with one downstream of it, real [shape=(4, ...)].

    A pair's flow without over with is ``a_1 a_2 - b_1 c_2``: ``a = 1 + Y g`` of each alone, ``b =
    Y (from source)^2`` and ``c = Y (to outlet)^2``, since ``g_12`` is a product of what is upstream
    and what is downstream. Its power is then a sum of four products, one for each of these numbers.
    """
    four = _four(admittance, here, at, here.from_source[at])
    four[2] *= -2.0
    four[3] *= 2.0
    return four


def second_of_two(admittance: AnyComplexArray, here: Places, at: int) -> NDArray[np.floating[Any]]:
    """As `first_of_two`, for a branch downstream of the other."""
    return _four(admittance, here, at, here.to_outlet[at])


def _four(
    admittance: AnyComplexArray, here: Places, at: int, one_way: AnyComplexArray
) -> NDArray[np.floating[Any]]:
    alone = insertion_one(admittance, here.transfer(at, at))
    across = np.conj(admittance * one_way**2)
    product = alone * across
    four = np.empty((4, *product.shape), product.real.dtype)
    four[0], four[1] = power(alone), power(across)
    four[2], four[3] = product.real, product.imag
    return four


def power(flow: AnyComplexArray) -> NDArray[np.floating[Any]]:
    """Square of the size."""
    return np.asarray(flow.real**2 + flow.imag**2)


def radiation_impedance(
    frequency_hz: ArrayLike, radius_m: ArrayLike, speed_m_s: ArrayLike, impedance: ArrayLike
) -> ComplexArray:
    """Unflanged open end, waves much longer than the pipe is wide (Levine and Schwinger, 1948).

    ``impedance`` is the pipe's own, rho c / S.
    """
    across = 2.0 * np.pi * np.asarray(frequency_hz) / np.asarray(speed_m_s) * np.asarray(radius_m)
    # first terms for k a well below one: 0.1 for a car's tail pipe at 200 Hz
    return np.asarray(impedance * (0.25 * across**2 + 1j * _UNFLANGED * across))


def _outlet_column(chain: Chain) -> tuple[AnyComplexArray, AnyComplexArray]:
    return chain.outlet, np.ones_like(chain.outlet)


def _source_row(chain: Chain) -> tuple[AnyComplexArray, AnyComplexArray]:
    """Give the wave that the source sends, ``p+ - R p-``, in terms of p and U."""
    z = chain.impedance[0]
    echo = chain.reflection
    # a source of echo r has impedance z (1 + r) / (1 - r); written so that r = 1 divides nothing by
    # zero
    return (1.0 - echo) / 2.0, z * (1.0 + echo) / 2.0


def _received(chain: Chain, column: tuple[AnyComplexArray, AnyComplexArray]) -> AnyComplexArray:
    row = _source_row(chain)
    return np.asarray(row[0] * column[0] + row[1] * column[1])


def _before_step(
    chain: Chain, piece: int, column: tuple[AnyComplexArray, AnyComplexArray]
) -> tuple[AnyComplexArray, AnyComplexArray]:
    pressure, flow = column
    return (pressure + chain.step[piece] * flow if piece in chain.step else pressure), flow


def _along(
    chain: Chain, piece: int, column: tuple[AnyComplexArray, AnyComplexArray]
) -> tuple[AnyComplexArray, AnyComplexArray]:
    if piece in chain.two_port:
        whole, (pressure, flow) = chain.two_port[piece], column
        return whole.a * pressure + whole.b * flow, whole.c * pressure + whole.d * flow
    z = chain.impedance[piece]
    pressure, scaled = _turned(column[0], z * column[1], chain.phase[piece])
    return pressure, scaled * (1.0 / z)


def _row_along(
    chain: Chain, piece: int, row: tuple[AnyComplexArray, AnyComplexArray]
) -> tuple[AnyComplexArray, AnyComplexArray]:
    if piece in chain.two_port:
        whole = chain.two_port[piece]
        return row[0] * whole.a + row[1] * whole.c, row[0] * whole.b + row[1] * whole.d
    z = chain.impedance[piece]
    scaled, flow = _turned(z * row[0], row[1], chain.phase[piece])
    return scaled / z, flow


def _turned(
    one: AnyComplexArray, other: AnyComplexArray, phase: AnyComplexArray
) -> tuple[AnyComplexArray, AnyComplexArray]:
    """``one cosh + other sinh`` and ``one sinh + other cosh``, as two waves: half the products."""
    growing = exponential(phase)
    forth, back = (0.5 * growing) * (one + other), (one - other) / (2.0 * growing)
    return forth + back, forth - back


def exponential(exponent: AnyComplexArray) -> AnyComplexArray:
    """Exponential, several times faster than numpy's; in double precision within 1e-14 of its size.

    In single precision sines are quick. In double they are not, so there the exponent is halved
    until Taylor's series is short, and the result squared as often.
    """
    if exponent.dtype == np.complex64:
        size, out = np.exp(exponent.real), np.empty_like(exponent)
        out.real, out.imag = size * np.cos(exponent.imag), size * np.sin(exponent.imag)
        return out
    largest = float(np.abs(exponent.real).max() + np.abs(exponent.imag).max())
    halvings = max(math.ceil(math.log2(largest / _SMALL)), 0) if largest > 0.0 else 0
    part = exponent * 0.5**halvings
    whole = part * _TAYLOR[0]
    for term in _TAYLOR[1:]:
        whole += term
        whole *= part
    whole += 1.0
    for _ in range(halvings):
        np.multiply(whole, whole, out=whole)
    return whole
