"""Parts that mufflers are made of: tubes, closed ends, sudden steps, perforated walls.

A `Matrix` here relates pressure and volume velocity, unscaled: ``[p1, U1] = [[a, b], [c, d]] [p2,
U2]``, upstream end first. Arrays broadcast as (member, frequency); sizes are [shape=(n_members, 1)]
or plain numbers. Time dependence exp(+j omega t).

Source: Munjal, Acoustics of Ducts and Mufflers (1987), ch. 2 and 3, from memory where not said
otherwise.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from analysis.acoustics import duct
from analysis.acoustics.duct import Matrix
from analysis.acoustics.end_correction import widening_correction_m
from analysis.acoustics.gas import Gas
from analysis.acoustics.packing import Filling
from analysis.acoustics.two_port import stretch
from analysis.basics.arrays import ComplexArray, FloatArray

Size: TypeAlias = FloatArray | float

# Perforated wall: 1.5 mm sheet with 3.5 mm holes; common practice, no source. 20 % more moves the
# mass of a wall a fifth open by 4 mm of gas.
_WALL_M, _HOLE_M = 0.0015, 0.0035
# Resistance over rho c and open share at rest: Sullivan and Crocker, J. Acoust. Soc. Am. 64 (1978)
# 207; with Mach number grazing: Rao and Munjal, J. Sound Vib. 108 (1986) 283; both from memory.
_AT_REST, _GRAZING = 0.006, 0.53
_BOTH_SIDES = 0.75  # end corrections of a hole, over its diameter: Sullivan and Crocker, as above


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium:
    """The gas in a muffler and its stream.

    Attributes
    ----------
    frequency_hz : [shape=(n_frequency,)]
    gas : with an axis for frequencies
    flow : mean volume flow over the speed of sound, m2, so that over an area it is the Mach number
        [shape=(n_members, n_frequency)]
    """

    frequency_hz: FloatArray
    gas: Gas
    flow: FloatArray

    @property
    def per_m(self) -> ComplexArray:
        """``j omega / c``."""
        return np.asarray(2j * np.pi * self.frequency_hz / self.gas.speed_of_sound_m_s)

    def impedance(self, area_m2: Size) -> FloatArray:
        """``rho c / S``."""
        return np.asarray(self.gas.rho_c / area_m2)

    def mach(self, bore_m: Size) -> FloatArray:
        """Where the whole stream runs in a tube of this bore."""
        return np.asarray(self.flow / circle_m2(bore_m))


def circle_m2(bore_m: Size) -> Size:
    """Area of a circle."""
    return np.pi / 4.0 * bore_m**2


def tube(at: Medium, bore_m: Size, length_m: Size) -> Matrix:
    """Take a tube with the stream in it, which makes it longer to the wave by ``1 / (1 - M^2)``."""
    longer_m = length_m / (1.0 - at.mach(bore_m) ** 2)
    per_m = duct.propagation_per_m(at.frequency_hz, at.gas, bore_m)
    return stretch(per_m * longer_m, at.impedance(circle_m2(bore_m)))


def closed(at: Medium, area_m2: Size, wide_m: Size, length_m: Size) -> ComplexArray:
    """Input admittance of a closed space of even area; ``wide_m`` for what its walls lose."""
    phase = duct.propagation_per_m(at.frequency_hz, at.gas, wide_m) * length_m
    shut = stretch(phase, at.impedance(area_m2))
    return np.asarray(shut.c / shut.a)


def beside(admittance: ComplexArray, rest: Matrix) -> Matrix:
    """Hang something at the upstream end of the rest."""
    return Matrix(
        a=rest.a, b=rest.b, c=rest.c + admittance * rest.a, d=rest.d + admittance * rest.b
    )


def in_series(impedance: ComplexArray, rest: Matrix) -> Matrix:
    """Put something in the way at the upstream end of the rest."""
    return Matrix(a=rest.a + impedance * rest.c, b=rest.b + impedance * rest.d, c=rest.c, d=rest.d)


def turned(whole: Matrix) -> Matrix:
    """Swap the ends of a reciprocal two-port."""
    return Matrix(a=whole.d, b=whole.b, c=whole.c, d=whole.a)


def step(at: Medium, from_bore_m: Size, to_bore_m: Size) -> ComplexArray:
    """Series impedance of a sudden step: mass of the fanning flow, loss of its eddies.

    Mass: see :func:`analysis.acoustics.end_correction.widening_correction_m`. Loss: Borda and
    Carnot's, linearised about the mean flow.
    """
    narrow_m, wide_m = np.minimum(from_bore_m, to_bore_m), np.maximum(from_bore_m, to_bore_m)
    ratio, longer_m = narrow_m / wide_m, widening_correction_m(narrow_m, wide_m)
    widens = np.asarray(from_bore_m) < to_bore_m
    loss = np.where(widens, (1.0 - ratio**2) ** 2, 0.5 * (1.0 - ratio**2))
    per_z = at.per_m * longer_m + loss * at.mach(narrow_m)
    return np.asarray(at.impedance(circle_m2(narrow_m)) * per_z)


def perforated_wall(
    at: Medium, area_m2: Size, open_share: Size, mach: FloatArray, behind: Filling | None = None
) -> ComplexArray:
    """Admittance of a perforated wall: volume velocity through it over the pressure across it.

    Parameters
    ----------
    area_m2 : of the wall, holes and all
    mach : of the stream that grazes it
    behind : packing that fills the room on one side, if any: its share of the holes' mass and
        friction is as Kirby and Cummings, J. Sound Vib. 217 (1998), have it, from memory
    """
    outside: ComplexArray | float = 1.0
    if behind is not None:
        outside = behind.propagation * behind.impedance
    long_m = _WALL_M + _BOTH_SIDES * _HOLE_M / 2.0 * (1.0 + outside)
    per_z = _AT_REST + _GRAZING * mach + at.per_m * long_m
    return np.asarray(open_share / (per_z * at.impedance(area_m2)))
