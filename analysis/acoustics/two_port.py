"""What a wave passes through between two ends of a duct: tubes, steps, whole mufflers.

Anything of that kind is an :class:`Element`, which puts itself behind what lies upstream of it. A
muffler does so by its :class:`analysis.acoustics.duct.Matrix`, for pressure and volume velocity as
they are, flow counted downstream at both ends. All numbers have the shape (n_members, n_frequency),
or one that broadcasts to it: a guess at the exhaust for each row. Elements must be reciprocal,
``a d - b c = 1``, as all passive ones without a stream are; a stream's turn of the phase, which no
level can show, is left out. Time goes as exp(+j omega t).

Source: Munjal, Acoustics of Ducts and Mufflers (1987), ch. 2; equation numbers not quoted.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass
from typing import Any, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from analysis.acoustics.duct import Matrix
from analysis.basics.arrays import ComplexArray, FloatArray

AnyComplexArray: TypeAlias = NDArray[np.complexfloating[Any, Any]]

# A definition: what is left out of the series for an exponent so small is below a rounding.
_SMALL = 1.0 / 16.0
_TAYLOR = tuple(1.0 / math.factorial(order) for order in range(8, 0, -1))


class Element(Protocol):
    """What a wave passes through on its way downstream."""

    def after(self, before: Matrix) -> Matrix:
        """Put itself downstream of ``before``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """A piece of even tube.

    ``phase`` is the propagation constant times the length, ``impedance`` the characteristic one
    without loss, rho c / S, Pa s/m3.
    """

    phase: ComplexArray
    impedance: FloatArray

    def after(self, before: Matrix) -> Matrix:
        """Multiply by the matrix of this stretch."""
        return before @ stretch(self.phase, self.impedance)


@dataclass(frozen=True, slots=True, kw_only=True)
class InSeries:
    """Something that the flow goes through: a mass, a resistance; Pa s/m3."""

    impedance: ComplexArray

    def after(self, before: Matrix) -> Matrix:
        """Add to the pressure what drives the flow through it."""
        z = self.impedance
        return Matrix(a=before.a, b=before.a * z + before.b, c=before.c, d=before.c * z + before.d)


@dataclass(frozen=True, slots=True)
class Row:
    """Elements one behind the other, upstream first."""

    elements: tuple[Element, ...]

    def after(self, before: Matrix) -> Matrix:
        """Put each behind the one before it."""
        for element in self.elements:
            before = element.after(before)
        return before


def stretch(phase: ComplexArray, impedance: ComplexArray | FloatArray) -> Matrix:
    """Any even stretch, of this propagation constant times length.

    ``[[cosh, Z sinh], [sinh / Z, cosh]]`` of the phase.
    """
    # half of the exponential and of its inverse: cosh and sinh would each take one of their own
    growing = exponential(phase)
    fading = 0.5 / growing
    growing *= 0.5
    cosh, sinh = growing + fading, growing - fading
    # numpy divides by a real number as by a complex one, which takes several times as long
    per_z = 1.0 / impedance
    return Matrix(a=cosh, b=np.asarray(sinh * impedance), c=np.asarray(sinh * per_z), d=cosh)


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
