"""What an exhaust may truly be, given what its owner measured: numbers drawn as plain normals.

Every unknown is a smooth function of standard normal coordinates, so that fitting needs no limits.
The ranges are those of `Reach`; without a source they are judgements.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from analysis.acoustics.duct import ComplexArray
from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.exhaust.guesses import Members
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.muffler_guesses import choices, chosen, unknowns

# judgement: how far a tape measure along bends and one stated gas temperature may be off; wider
# ranges make fewer places sure. 20 % more of either moves a length by 14 mm, the outlook by 0.2 and
# 0.7 dB.
LENGTHS_OFF = 0.02  # tape measure along bends
GAS_OFF_K = 40.0  # one stated gas temperature
# judgement: collector 300 to 600 degC, tail pipe 120 to 300 degC: within Heywood (1988), from
# memory, at cruise. The rest: judgement, as wide as anybody can argue for, since the drive narrows
# them. 20 % more of any of the rest moves a length by 6 to 21 mm, the outlook by 0.2 to 0.6 dB and
# a gas interval after the second drive by 3 K at most.
_UNKNOWN_INLET_K = Interval(low=573.15, high=873.15)
_UNKNOWN_OUTLET_K = Interval(low=393.15, high=573.15)
_BEND = (0.0, 0.7)
_ECHO = 0.99  # strongest echo of a source; its phase may be any
_ECHO_M = (0.0, 0.8)
_MACH = (0.02, 0.12)  # at the collector, 3000 rpm
MOUTH_LOSS = (0.2, 1.2)  # resistance of a branch's mouth over rho c and Mach number
_PLAIN = 7  # coordinates that do not go with the sections; a definition


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Turns coordinates [shape=(n_members, n_coordinates)] into guesses at the exhaust."""

    line: ExhaustLine

    @property
    def size(self) -> int:
        """How many coordinates there are."""
        return self._first_inside + sum(unknowns(part.kind) for part in self.line.sections)

    @property
    def choices(self) -> IntArray:
        """Numbers of the coordinates that choose what a muffler is: none lies between two."""
        return self._first_inside + choices(self.line)

    @property
    def _first_inside(self) -> int:
        return _PLAIN + len(self.line.sections)

    def members(self, coordinates: FloatArray) -> Members:
        """Guesses at the exhaust, one for each row."""
        share = ndtr(coordinates)
        inlet, outlet = end_gas_k(self.line)
        inlet_k = _between((inlet.low, inlet.high), share[:, 0])
        outlet_k = _between((outlet.low, outlet.high), share[:, 1])
        stretched = share[:, _PLAIN : self._first_inside]
        build, inside = chosen(self.line, share[:, self._first_inside :])
        return Members(
            stretch=1.0 + _between((-LENGTHS_OFF, LENGTHS_OFF), stretched),
            inlet_k=np.maximum(inlet_k, outlet_k),
            outlet_k=outlet_k,
            bend=_between(_BEND, share[:, 2]),
            build=build,
            inside=inside,
            echo=_echo(coordinates[:, 3], coordinates[:, 4]),
            echo_m=_between(_ECHO_M, share[:, 5]),
            mach=_between(_MACH, share[:, 6]),
        )


def end_gas_k(line: ExhaustLine) -> tuple[Interval, Interval]:
    """Say what the gas may be at the collector and at the outlet."""
    return _widened(line.inlet_k or _UNKNOWN_INLET_K), _widened(line.outlet_k or _UNKNOWN_OUTLET_K)


def _widened(told: Interval) -> Interval:
    """One value is good to `GAS_OFF_K`; a range is taken as it is."""
    off = GAS_OFF_K if told.high - told.low < GAS_OFF_K else 0.0
    return Interval(low=max(told.low - off, COLDEST_K), high=min(told.high + off, HOTTEST_K))


def _between(ends: tuple[float, float], share: FloatArray) -> FloatArray:
    return np.asarray(ends[0] + (ends[1] - ends[0]) * share)


def _echo(x: FloatArray, y: FloatArray) -> ComplexArray:
    """Size even between none and `_ECHO`, phase even all round."""
    square = x**2 + y**2
    size = _ECHO * -np.expm1(-square / 2.0)
    return np.asarray(size * (x + 1j * y) / np.sqrt(np.maximum(square, 1e-12)))
