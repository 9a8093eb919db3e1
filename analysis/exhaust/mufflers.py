"""Kinds of muffler by what people can see, and what may be inside each.

From outside one sees shell, pipes and perhaps the type. The rest is unknown, so each guess at the
exhaust has its own build and its own innards. A build turns shares from 0 to 1, drawn evenly, into
sizes and those into a two-port.

Sizes: what cut-open mufflers and the trade's drawings show; common practice, no source, where none
is named.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from analysis.acoustics import mufflers
from analysis.acoustics.duct import Matrix
from analysis.acoustics.muffler_parts import Medium
from analysis.acoustics.mufflers import Casing
from analysis.basics.arrays import FloatArray

Inside: TypeAlias = Callable[[Medium, Casing, list[FloatArray]], Matrix]
"""From what can be seen, and shares [shape=(n_members, 1)] of what cannot, to a two-port."""

# judgement: an expansion chamber's packing, as wide as anybody can argue for, since the drive
# narrows it. 20 % more of either moves a length by 6 to 21 mm, the outlook by 0.2 to 0.6 dB.
PACKING_NP_M = (0.0, 0.9)
PACKING_SLOWS = (0.0, 0.6)
# judgement: of a straight-through muffler's length, how much is perforated; holes over its wall,
# from louvres to the most open sheet.
_PERFORATED = (0.6, 1.0)
_STRAIGHT_OPEN = (0.08, 0.5)
# Flow resistivity of the packing, Pa s/m2. Top: glass fibre at 200 kg/m3 has 17,400, at 100 kg/m3
# 4,900, by Selamet, Lee and Huff, J. Sound Vib. 262 (2003) 509, from memory. Bottom, judgement:
# burnt out and blown away, which a wave below 300 Hz cannot tell from empty.
_RESISTIVITY = (30.0, 20_000.0)
# judgement: end chambers of a three-pass muffler over its length; bore of its tubes over the
# pipe's, and over the shell at most, so that three go in beside each other; holes over the wall of
# the tubes in the middle room, from hardly any to a perforated half.
_END_CHAMBER = (0.12, 0.35)
_PASS_BORE = (0.8, 1.0)
_PASS_IN_SHELL = 0.42
_PASS_OPEN = (0.002, 0.25)
# judgement: where the plates of a chambered muffler stand, over its length; how far tubes reach
# into a chamber, over the chamber's, and how far two from both ends together (the textbook's best
# are a half and a quarter: Munjal, 1987, ch. 8, from memory); bore of the tubes through the plates
# over the pipe's.
_PLATE = (0.33, 0.67)
_FIRST_OF_THREE = (0.2, 0.5)
_REACH, _REACH_TOGETHER = (0.0, 0.6), 0.95
_PLATE_BORE = (0.75, 1.1)
# Catalyst: cells of 400 to 200 to the square inch are 1.1 to 1.7 mm wide between coated walls, 600
# are 0.9; two thirds to five sixths of the face is open. Makers' data sheets, from memory.
# judgement: how much of the can is channels, the rest cones.
_CHANNEL_M = (0.0009, 0.0017)
_FACE_OPEN = (0.65, 0.85)
_CHANNELS = (0.4, 0.8)
# Narrowest shell over pipe that three tubes beside each other, or plates with tubes set off, go
# into; a definition: three equal circles in one.
_ROOM_FOR_TUBES = 1.0 + 2.0 / np.sqrt(3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One way to build a muffler.

    ``unknowns`` is how many shares ``inside`` takes; ``widest_pipe`` the widest pipe, over the
    shell, that it can be built with.
    """

    unknowns: int
    inside: Inside
    widest_pipe: float = 1.0


def _chamber(at: Medium, casing: Casing, share: list[FloatArray]) -> Matrix:
    return mufflers.chamber(
        at,
        casing,
        damping_np_m=evenly(PACKING_NP_M, share[0]),
        slowing=evenly(PACKING_SLOWS, share[1]),
    )


def _straight_through(at: Medium, casing: Casing, share: list[FloatArray]) -> Matrix:
    return mufflers.straight_through(
        at,
        casing,
        perforated=evenly(_PERFORATED, share[0]),
        open_share=_by_ratio(_STRAIGHT_OPEN, share[1]),
        resistivity=_by_ratio(_RESISTIVITY, share[2]),
    )


def _three_pass(at: Medium, casing: Casing, share: list[FloatArray]) -> Matrix:
    tube_m = evenly(_PASS_BORE, share[2]) * casing.inlet_m
    return mufflers.three_pass(
        at,
        casing,
        front=evenly(_END_CHAMBER, share[0]),
        rear=evenly(_END_CHAMBER, share[1]),
        # three beside each other must go into the shell
        tube_m=np.minimum(tube_m, _PASS_IN_SHELL * casing.shell_m),
        perforated=1.0,
        open_share=_by_ratio(_PASS_OPEN, share[3]),
    )


def _two_chambers(at: Medium, casing: Casing, share: list[FloatArray]) -> Matrix:
    first = evenly(_PLATE, share[0])
    return _chambers(at, casing, (first, 1.0 - first), share)


def _three_chambers(at: Medium, casing: Casing, share: list[FloatArray]) -> Matrix:
    first = evenly(_FIRST_OF_THREE, share[0])
    rest = (1.0 - first) / 2.0
    return _chambers(at, casing, (first, rest, rest), share)


def _chambers(
    at: Medium, casing: Casing, shares: tuple[FloatArray, ...], share: list[FloatArray]
) -> Matrix:
    inlet, plate, outlet = (evenly(_REACH, each) for each in share[1:4])
    fullest = np.maximum(inlet, outlet) + plate
    if len(shares) > 2:
        fullest = np.maximum(fullest, 2.0 * plate)
    # tubes from both ends must not meet in a chamber, so all are shortened alike
    short = _REACH_TOGETHER / np.maximum(fullest, _REACH_TOGETHER)
    reach = (inlet, *(plate for _ in shares[1:]), outlet)
    return mufflers.chambers(
        at,
        casing,
        shares=shares,
        tube_m=evenly(_PLATE_BORE, share[4]) * casing.inlet_m,
        reach=tuple(each * short for each in reach),
    )


def _catalyst(at: Medium, casing: Casing, share: list[FloatArray]) -> Matrix:
    return mufflers.monolith(
        at,
        casing,
        channels=evenly(_CHANNELS, share[0]),
        open_share=evenly(_FACE_OPEN, share[1]),
        channel_m=evenly(_CHANNEL_M, share[2]),
    )


# Each way to build, of the sizes above; unknowns are those by definition.
CHAMBER = Build(unknowns=2, inside=_chamber)
_STRAIGHT = Build(unknowns=3, inside=_straight_through)
_TRIPLE = Build(unknowns=4, inside=_three_pass, widest_pipe=1.0 / _ROOM_FOR_TUBES)
_TWO = Build(unknowns=5, inside=_two_chambers, widest_pipe=1.0 / _ROOM_FOR_TUBES)
_THREE = Build(unknowns=5, inside=_three_chambers, widest_pipe=1.0 / _ROOM_FOR_TUBES)
_CATALYST = Build(unknowns=3, inside=_catalyst)

UNKNOWN = "unknown"
# What each type may be, with how likely. judgement: among mufflers that nobody has looked into,
# three passes are the commonest from a works, straight-through and chambered the commonest of those
# bought; the rest are taken for plain chambers. The drive then weighs them.
TYPES: dict[str, tuple[tuple[Build, float], ...]] = {
    "straight-through": ((_STRAIGHT, 1.0),),
    "three-pass": ((_TRIPLE, 1.0),),
    "chambered": ((_TWO, 0.6), (_THREE, 0.4)),
    "resonator": ((_STRAIGHT, 1.0),),
    UNKNOWN: ((_STRAIGHT, 0.25), (_TRIPLE, 0.3), (_TWO, 0.18), (_THREE, 0.12), (CHAMBER, 0.15)),
}
CATALYST = ((_CATALYST, 1.0),)


def evenly(ends: tuple[float, float], share: FloatArray) -> FloatArray:
    """Turn shares from 0 to 1 into numbers between two ends, any shape."""
    return np.asarray(ends[0] + (ends[1] - ends[0]) * share)


def _by_ratio(ends: tuple[float, float], share: FloatArray) -> FloatArray:
    # of what spans decades: drawn evenly, hardly a guess would be small
    return np.asarray(ends[0] * (ends[1] / ends[0]) ** share)
