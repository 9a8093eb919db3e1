"""Mufflers by what is inside them, each as one two-port from its inlet to its outlet.

Plane waves in every part: good to some 400 Hz in a shell of 0.2 m, where waves across it begin to
count. The stream lengthens the ways and adds resistance, but turns no phase, so all are reciprocal.
Arrays, units and sources are those of :mod:`analysis.acoustics.muffler_parts`; what a kind needs
besides is said there. Build-ups: common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, replace

import numpy as np

from analysis.acoustics import duct
from analysis.acoustics.duct import Matrix
from analysis.acoustics.muffler_parts import (
    Medium,
    Size,
    beside,
    circle_m2,
    closed,
    in_series,
    perforated_wall,
    step,
    tube,
    turned,
)
from analysis.acoustics.packing import in_channels, packed
from analysis.acoustics.two_port import exponential, stretch
from analysis.basics.arrays import ComplexArray

# judgement: share of the shell's area left round three tubes at least, so that tubes too wide for
# their shell still give an answer; 20 % more moves nothing, no real muffler comes near.
_LEFT_ROUND = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Casing:
    """What can be seen of a muffler: its shell, and the pipes that go in and come out."""

    length_m: Size
    shell_m: Size
    inlet_m: Size
    outlet_m: Size


def chamber(
    at: Medium,
    casing: Casing,
    *,
    inlet_in_m: Size = 0.0,
    outlet_in_m: Size = 0.0,
    damping_np_m: Size = 0.0,
    slowing: Size = 0.0,
) -> Matrix:
    """Expansion chamber; its pipes may reach into it, and round them the gas stands in rings.

    ``damping_np_m`` is what loose packing takes out of the wave, ``slowing`` how much it slows it,
    as a share of that.
    """
    shell_m = casing.shell_m
    per_m = duct.propagation_per_m(at.frequency_hz, at.gas, shell_m)
    per_m = per_m + damping_np_m * (1.0 + 1j * np.asarray(slowing))
    between_m = casing.length_m - inlet_in_m - outlet_in_m
    longer_m = between_m / (1.0 - at.mach(shell_m) ** 2)
    room = stretch(per_m * longer_m, at.impedance(circle_m2(shell_m)))
    leave = step(at, shell_m, casing.outlet_m)
    left = turned(_reaching(at, casing.outlet_m, shell_m, outlet_in_m, leave, turned(room)))
    enter = step(at, casing.inlet_m, shell_m)
    return _reaching(at, casing.inlet_m, shell_m, inlet_in_m, enter, left)


def chambers(
    at: Medium, casing: Casing, *, shares: tuple[Size, ...], tube_m: Size, reach: tuple[Size, ...]
) -> Matrix:
    """Chambers one behind the other, with tubes through the plates between them.

    Parameters
    ----------
    shares : of the length, one for each chamber; they add up to one
    tube_m : bore of the tubes between chambers
    reach : how far the tube at each plate, the two ends counted, reaches into the chambers beside
        it, over their length; two in one chamber add up to less than one
    """
    whole: Matrix | None = None
    last = len(shares) - 1
    for number, share in enumerate(shares):
        length_m = share * casing.length_m
        one = chamber(
            at,
            Casing(
                length_m=length_m,
                shell_m=casing.shell_m,
                inlet_m=casing.inlet_m if number == 0 else tube_m,
                outlet_m=casing.outlet_m if number == last else tube_m,
            ),
            inlet_in_m=reach[number] * length_m,
            outlet_in_m=reach[number + 1] * length_m,
        )
        whole = one if whole is None else whole @ one
    assert whole is not None
    return whole


def straight_through(
    at: Medium, casing: Casing, *, perforated: Size, open_share: Size, resistivity: Size
) -> Matrix:
    """Perforated tube through a closed room, empty or packed.

    Two ducts that exchange gas all along their wall; Sullivan and Crocker, J. Acoust. Soc. Am. 64
    (1978) 207, solved in closed form as by Peat, J. Sound Vib. 123 (1988) 199, both from memory.

    Parameters
    ----------
    perforated : share of the length that is perforated; the rest is plain tube at both ends
    open_share : holes over wall
    resistivity : of the packing, Pa s/m2 in air at 20 degC; 0 is none
    """
    bore_m, length_m = casing.inlet_m, perforated * casing.length_m
    end = tube(at, bore_m, (casing.length_m - length_m) / 2.0)
    whole = end @ _two_ducts(at, casing, length_m, open_share, resistivity) @ end
    return turned(in_series(step(at, bore_m, casing.outlet_m), turned(whole)))


def three_pass(
    at: Medium,
    casing: Casing,
    *,
    front: Size,
    rear: Size,
    tube_m: Size,
    perforated: Size,
    open_share: Size,
) -> Matrix:
    """In to the rear chamber, back to the front one, and out, through three tubes.

    Where they cross the middle room, holes let all three leak into it; they are taken together at
    the middle of each tube, which is right for rooms much shorter than a wave.

    Parameters
    ----------
    front, rear : length of the end chambers over the whole
    tube_m : bore of the tubes inside
    perforated : share of the middle room's length where tubes have holes
    open_share : holes over wall there
    """
    middle_m = (1.0 - front - rear) * casing.length_m
    half = tube(at, tube_m, middle_m / 2.0)
    shell_m2, tube_m2 = circle_m2(casing.shell_m), circle_m2(tube_m)
    into, out_of = step(at, tube_m, casing.shell_m), step(at, casing.shell_m, tube_m)

    def turn(share: Size) -> Matrix:
        end = closed(at, shell_m2 - tube_m2, casing.shell_m, share * casing.length_m)
        return half @ in_series(into, beside(end, in_series(out_of, half)))

    def through(share: Size) -> Matrix:
        return tube(at, tube_m, middle_m / 2.0 + share * casing.length_m)

    ways = (
        in_series(step(at, casing.inlet_m, tube_m), through(front)),
        turn(rear),
        turn(front),
        turned(in_series(step(at, tube_m, casing.outlet_m), turned(through(rear)))),
    )
    around_m2 = np.maximum(shell_m2 - 3.0 * tube_m2, _LEFT_ROUND * shell_m2)
    room = 2.0 * closed(at, around_m2, casing.shell_m, middle_m / 2.0)
    wall_m2 = np.pi * tube_m * perforated * middle_m
    return _leaking(ways, perforated_wall(at, wall_m2, open_share, at.mach(tube_m)), room)


def monolith(
    at: Medium, casing: Casing, *, channels: Size, open_share: Size, channel_m: Size
) -> Matrix:
    """Catalyst: a bundle of fine channels between two cones, each cone as a tube of middle width.

    Parameters
    ----------
    channels : length of the channels over the whole
    open_share : open part of the face
    channel_m : hydraulic diameter of one
    """
    cone_m = (1.0 - channels) * casing.length_m / 2.0
    filling = in_channels(at.frequency_hz, at.gas, np.asarray(channel_m))
    phase = at.per_m * filling.propagation * channels * casing.length_m
    brick = stretch(phase, at.impedance(open_share * circle_m2(casing.shell_m)) * filling.impedance)
    inlet, outlet = (
        tube(at, (pipe_m + casing.shell_m) / 2.0, cone_m)
        for pipe_m in (casing.inlet_m, casing.outlet_m)
    )
    return inlet @ brick @ outlet


def _reaching(
    at: Medium, pipe_m: Size, shell_m: Size, in_m: Size, mouth: ComplexArray, rest: Matrix
) -> Matrix:
    """Put a pipe's end, some way inside a shell, before the rest."""
    if not np.any(in_m):
        return in_series(mouth, rest)
    ring = closed(at, circle_m2(shell_m) - circle_m2(pipe_m), shell_m - pipe_m, in_m)
    return tube(at, pipe_m, in_m) @ in_series(mouth, beside(ring, rest))


def _two_ducts(
    at: Medium, casing: Casing, length_m: Size, open_share: Size, resistivity: Size
) -> Matrix:
    """Take a perforated tube and the closed room round it.

    With ``p'' = [[m00, m01], [m10, m11]] p`` for the pressures inside and outside, and both ends of
    the room shut, the tube's impedances are sums over the two modes of this matrix.
    """
    bore_m, shell_m = casing.inlet_m, casing.shell_m
    mach = at.mach(bore_m)
    filling = packed(at.frequency_hz, at.gas, np.asarray(resistivity))
    inside = duct.propagation_per_m(at.frequency_hz, at.gas, bore_m) / (1.0 - mach**2)
    outside = duct.propagation_per_m(at.frequency_hz, at.gas, shell_m - bore_m)
    outside = outside * filling.propagation
    wall = perforated_wall(at, np.pi * bore_m, open_share, mach, filling)
    held_in = inside * at.impedance(circle_m2(bore_m))
    room_m2 = circle_m2(shell_m) - circle_m2(bore_m)
    held_out = outside * at.impedance(room_m2) * filling.impedance
    m00, m11 = inside**2 + held_in * wall, outside**2 + held_out * wall
    apart = (m00 - m11) / 2.0
    root = np.sqrt(apart**2 + held_in * held_out * wall**2)
    fast = (m00 + m11) / 2.0 + root
    # product of both over the one: their difference would lose the slow one's digits
    slow = (inside**2 * m11 + outside**2 * held_in * wall) / fast
    weight = (apart + root) / (2.0 * root)
    even = odd = np.zeros_like(root)
    for square, share in ((fast, weight), (slow, 1.0 - weight)):
        per_m = np.sqrt(square)
        shrunk = exponential(np.asarray(-per_m * length_m, dtype=np.complex128))
        tanh_half = (1.0 - shrunk) / (1.0 + shrunk)
        even = even + share / per_m / tanh_half
        odd = odd + share / per_m * tanh_half
    # open-circuit impedances, their sum and their difference; see Munjal, ch. 3
    both, difference = held_in * even, held_in * odd
    across = (both - difference) / 2.0
    same = (both + difference) / (2.0 * across)
    return Matrix(a=same, b=both * difference / across, c=1.0 / across, d=same)


def _leaking(ways: tuple[Matrix, ...], hole: ComplexArray, room: ComplexArray) -> Matrix:
    """Ways in a row; between any two, the same holes lead into one room of this admittance.

    Walks up from the outlet with what its pressure and flow, and the room's pressure, give of
    each; the room's own balance then tells its pressure.
    """
    last = ways[-1]
    of_outlet, of_room = last, (np.zeros_like(hole), np.zeros_like(hole))
    into_a, into_b, into_room = np.zeros_like(hole), np.zeros_like(hole), np.zeros_like(hole)
    for way in reversed(ways[:-1]):
        leak = hole * (of_room[0] - 1.0)
        leak_a, leak_b = hole * of_outlet.a, hole * of_outlet.b
        into_a, into_b, into_room = into_a + leak_a, into_b + leak_b, into_room + leak
        tapped = replace(of_outlet, c=of_outlet.c + leak_a, d=of_outlet.d + leak_b)
        of_outlet = way @ tapped
        flow = of_room[1] + leak
        of_room = (
            way.a * of_room[0] + way.b * flow,
            way.c * of_room[0] + way.d * flow,
        )
    kept = room - into_room
    pressure, flow = of_room[0] / kept, of_room[1] / kept
    return Matrix(
        a=of_outlet.a + pressure * into_a,
        b=of_outlet.b + pressure * into_b,
        c=of_outlet.c + flow * into_a,
        d=of_outlet.d + flow * into_b,
    )
