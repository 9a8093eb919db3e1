"""What an exhaust may truly be, given what its owner measured: numbers drawn as plain normals.

Every unknown is a smooth function of standard normal coordinates, so that fitting needs no limits.
The ranges are those of `Reach`; without a source they are judgements.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr

from analysis.acoustics.cabin import Cabin
from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.basics.arrays import ComplexArray, FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.exhaust.guesses import Members
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.muffler_guesses import choices, chosen, unknowns
from analysis.exhaust.mufflers import evenly

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
_ECHO_AT = (3, 4, 5)  # those of the sources' echo among them; a definition
# judgement: what a mirrored side may differ in from the one that was measured; how unlike two banks
# pulse; how unlike two open ends are heard, and how much farther from the cabin one may be.
_SIDE_LENGTHS_OFF, _SIDE_GAS_OFF_K = 0.005, 15.0
_PULSE_OFF, _PULSE_OFF_RAD = 0.15, 0.25
_EAR_OFF, _EAR_OFF_M = 0.25, 1.2

# judgement: of a length, what is left of it where it was typed too long; it moves no answer
_LEAST_LEFT = 0.2

# judgement: what the body hums of the drone's own energy, none to nearly a third, small shares
# likelier; its slope, and how much earlier than the outlet's sound it comes: that has 1 to 4 m of
# air more to go, and the pipe's gas is counted with the pipe. 20 % more of any, which also draws
# other guesses, moves the outlook by 0.1 to 2.4 dB, and a length by 5 mm where the place stays.
_BESIDE, _SMALL_LIKELIER = 0.65, 3.0  # amplitude over the outlet's; power of an even share
_MOST_EVEN = 0.98  # keeps a logarithm finite; judgement: moves no answer
_BESIDE_SLOPE_DB = (-9.0, 9.0)
_BESIDE_LEAD_S = (-0.002, 0.013)
# judgement: one mode of the cabin, where cars have their first few; weak ones likelier. 20 % more
# of its gain moves the outlook by 0.6 to 2.6 dB, and a length by 15 mm where the place stays.
_MODE_HZ = (35.0, 220.0)
_MODE_GAIN = 4.0
_MODE_Q = (3.0, 12.0)
CABIN_SIZE = 7  # coordinates; a definition


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """How far the length of one section, by its number, may be from what was typed.

    ``by_m`` is the likeliest, ``spread_m`` one standard deviation of what it may be otherwise. The
    section ``onto`` gets as much shorter, so that what lies between moves; none where it is None.
    """

    section: int
    by_m: float
    spread_m: float
    onto: int | None = None


@dataclass(frozen=True, kw_only=True)
class Prior:
    """Turns coordinates [shape=(n_members, n_coordinates)] into guesses at the exhaust.

    ``engine_order`` is the one that drones, None of a drone whose order is not known. With
    ``slips`` the last coordinate says how far one length is off; of several slips a guess has one,
    and the coordinate before it says which, by its number.
    """

    line: ExhaustLine
    engine_order: float | None = None
    slips: tuple[Slip, ...] = ()

    @property
    def size(self) -> int:
        """How many coordinates there are."""
        return sum(self._counts)

    @cached_property
    def measured(self) -> list[int]:
        """Numbers of the sections that were measured: a mirrored side was not."""
        return sorted(set(self._own.tolist()))

    @property
    def choices(self) -> IntArray:
        """Numbers of the coordinates that choose, what a muffler is or which length slipped.

        Nothing lies between two choices.
        """
        kinds = [self.line.sections[number].kind for number in self.measured]
        of_mufflers = choices(kinds) + sum(self._counts[:2])
        return np.append(of_mufflers, self.size - 2) if len(self.slips) > 1 else of_mufflers

    @property
    def at_ends(self) -> IntArray:
        """Numbers of the coordinates that no duct hangs on, only sources and open ends."""
        starts = np.cumsum((0, *self._counts))
        # from 4 to 6 in `_counts`: what the banks send, and how the open ends are heard
        return np.concatenate([_ECHO_AT, np.arange(starts[4], starts[6])])

    @cached_property
    def _counts(self) -> tuple[int, ...]:
        """How many go with each part: all, sections, innards, sides, banks, open ends, a slip."""
        line = self.line
        return (
            _PLAIN,
            len(self.measured),
            sum(unknowns(line.sections[number].kind) for number in self.measured),
            2 * len(self._mirrored),
            2 * (line.n_sources - 1),
            2 * (len(line.open_pipes) - 1),
            min(len(self.slips), 2),
        )

    @cached_property
    def _mirrored(self) -> list[int]:
        return [number for number, pipe in enumerate(self.line.pipes) if pipe.twin is not None]

    @cached_property
    def _own(self) -> IntArray:
        """Number of the section that each was measured on: its own, or its twin's."""
        line, firsts = self.line, self.line.firsts
        own = np.arange(len(line.sections))
        for number in self._mirrored:
            twin = line.pipes[number].twin or 0
            own[firsts[number] : firsts[number + 1]] = own[firsts[twin] : firsts[twin + 1]]
        return own

    def kinds(self, coordinates: FloatArray) -> IntArray:
        """Say of which kind each guess is, by what its mufflers are, [shape=(n_members,)]."""
        return np.unique(self.members(coordinates).build, axis=0, return_inverse=True)[1].ravel()

    def members(self, coordinates: FloatArray) -> Members:
        """Guesses at the exhaust, one for each row."""
        share = ndtr(coordinates)
        ends = np.cumsum(self._counts)[:-1]
        plain, stretched, within, sides, banks, mouths, _ = np.split(share, ends, axis=1)
        row = np.searchsorted(self.measured, self._own)
        inlet, outlet = end_gas_k(self.line)
        inlet_k = evenly((inlet.low, inlet.high), plain[:, 0])
        outlet_k = evenly((outlet.low, outlet.high), plain[:, 1])
        # one tape measure for both of a mirrored pair: they are off alike
        stretch = 1.0 + evenly((-LENGTHS_OFF, LENGTHS_OFF), stretched)[:, row]
        longer, warmer_k = self._sides(sides)
        build, inside = chosen(self.line, self.measured, within)
        ear, ear_m = _over_the_first(mouths)
        return Members(
            stretch=stretch * longer * self._slipped(coordinates),
            # two ranges may overlap, but gas only cools on its way
            inlet_k=np.maximum(inlet_k, outlet_k),
            outlet_k=outlet_k,
            bend=evenly(_BEND, plain[:, 2]),
            warmer_k=warmer_k,
            build=build[:, row],
            inside=inside[:, row],
            echo=_turned(coordinates[:, 3], coordinates[:, 4], lambda even: _ECHO * even),
            echo_m=evenly(_ECHO_M, plain[:, 5]),
            mach=evenly(_MACH, plain[:, 6]),
            pulse=self._pulses(banks),
            ear=1.0 + _EAR_OFF * ear,
            ear_m=_EAR_OFF_M * ear_m,
        )

    def _slipped(self, coordinates: FloatArray) -> FloatArray:
        """How much longer each section is than typed, [shape=(n_members, n_sections)]."""
        longer = np.ones((coordinates.shape[0], len(self.line.sections)))
        for number, slip in enumerate(self.slips):
            has = (
                coordinates[:, -2] == number if len(self.slips) > 1 else np.full(len(longer), True)
            )
            by_m = slip.by_m + slip.spread_m * coordinates[has, -1]
            for section, more_m in ((slip.section, by_m), (slip.onto, -by_m)):
                if section is not None:
                    slipped = 1.0 + more_m / self.line.lengths_m[section]
                    own = np.ix_(has, self._own == section)
                    longer[own] = np.maximum(slipped, _LEAST_LEFT)[:, None]
        return longer

    def _sides(self, share: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How much longer each section is than its twin, and how much warmer each pipe's gas."""
        line = self.line
        longer = np.ones((share.shape[0], len(line.sections)))
        warmer_k = np.zeros((share.shape[0], len(line.pipes)))
        for rank, number in enumerate(self._mirrored):
            off = 2.0 * share[:, 2 * rank : 2 * rank + 2] - 1.0
            own = slice(line.firsts[number], line.firsts[number + 1])
            longer[:, own] += _SIDE_LENGTHS_OFF * off[:, :1]
            warmer_k[:, number] = _SIDE_GAS_OFF_K * off[:, 1]
        return longer, warmer_k

    def _pulses(self, share: FloatArray) -> ComplexArray:
        """Say what each bank sends over the first; the phase may be any if nobody knows."""
        strength, turn = _over_the_first(share)
        firing, known = self.line.firing, None
        if firing is not None:
            known = firing.turns_rad(self.engine_order, self.line.n_sources)
        turn_rad = np.pi * turn if known is None else known + _PULSE_OFF_RAD * turn
        return np.asarray((1.0 + _PULSE_OFF * strength) * np.exp(1j * turn_rad))


def cabins(coordinates: FloatArray) -> Cabin:
    """Guesses at the cabin, for coordinates [shape=(n_members, CABIN_SIZE)] or more, unread."""
    share = ndtr(coordinates)
    return Cabin(
        beside=_turned(
            coordinates[:, 0], coordinates[:, 1], lambda even: _BESIDE * even**_SMALL_LIKELIER
        ),
        slope_db=evenly(_BESIDE_SLOPE_DB, share[:, 2]),
        lead_s=evenly(_BESIDE_LEAD_S, share[:, 3]),
        mode_hz=_MODE_HZ[0] * (_MODE_HZ[1] / _MODE_HZ[0]) ** share[:, 4],
        mode_gain=_MODE_GAIN * share[:, 5] ** _SMALL_LIKELIER,
        mode_q=evenly(_MODE_Q, share[:, 6]),
    )


def beside_at(beside: ComplexArray) -> FloatArray:
    """Give the coordinates of what comes another way, [shape=(n_members, 2)]: `cabins` backwards.

    More than a guess can have is taken for the most.
    """
    even = (np.abs(beside) / _BESIDE).clip(0.0, _MOST_EVEN) ** (1.0 / _SMALL_LIKELIER)
    size = np.sqrt(-2.0 * np.log1p(-even))
    turn = np.angle(beside)
    return np.stack([size * np.cos(turn), size * np.sin(turn)], axis=1)


def end_gas_k(line: ExhaustLine) -> tuple[Interval, Interval]:
    """Say what the gas may be at the collector and at the outlet."""
    return _widened(line.inlet_k or _UNKNOWN_INLET_K), _widened(line.outlet_k or _UNKNOWN_OUTLET_K)


def _widened(told: Interval) -> Interval:
    """One value is good to `GAS_OFF_K`; a range is taken as it is."""
    off = GAS_OFF_K if told.high - told.low < GAS_OFF_K else 0.0
    return Interval(low=max(told.low - off, COLDEST_K), high=min(told.high + off, HOTTEST_K))


def _over_the_first(share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two numbers from -1 to 1 for each but the first, whose own are zero."""
    off = np.pad(2.0 * share - 1.0, ((0, 0), (2, 0)))
    return off[:, 0::2], off[:, 1::2]


def _turned(
    x: FloatArray, y: FloatArray, size_of: Callable[[FloatArray], FloatArray]
) -> ComplexArray:
    """Size by a number that is even between 0 and 1, phase even all round."""
    square = x**2 + y**2
    # of two normals this is even between 0 and 1: Box and Muller, backwards
    size = size_of(-np.expm1(-square / 2.0))
    # in the middle the size is zero, and any phase will do
    return np.asarray(size * (x + 1j * y) / np.sqrt(np.maximum(square, 1e-12)))
