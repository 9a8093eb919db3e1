"""Many exhausts at once, each a guess at the real one: from lengths and gas to matrices."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, replace

import numpy as np

from analysis.acoustics import duct
from analysis.acoustics.duct import ComplexArray, Matrix
from analysis.acoustics.end_correction import widening_correction_m
from analysis.acoustics.gas import COLDEST_K, HOTTEST_K, PRESSURE_PA, Gas, exhaust_gas
from analysis.acoustics.muffler_parts import Medium, circle_m2
from analysis.acoustics.network import Chain, radiation_impedance
from analysis.basics.arrays import FloatArray, IntArray
from analysis.exhaust.line import ExhaustLine, Pieces
from analysis.exhaust.muffler_guesses import two_port

# The engine speed and the frequency that a guess's flow and echo are stated for: a definition, but
# one that the ranges in prior belong to; 20 % more moves a length by 17 to 22 mm, as 20 % more of a
# range does.
_MACH_RPM = 3000.0
_ECHO_HZ = 100.0  # where a source's echo has the phase it is said to have
# ratio of bores above which a step is none; judgement: smaller steps echo 5 % at most
_NEARLY_EQUAL = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Members:
    """Guesses at one exhaust; arrays [shape=(n_members,)], those by section [(n_members, n)].

    Attributes
    ----------
    stretch : true length of each section over what its owner measured
    inlet_k, outlet_k : gas at the two ends
    bend : how much faster than a straight line the gas cools at the hot end, 0 to 1
    build : which of its kind's builds each section is, [shape=(n_members, n_sections)]
    inside : what is in each, as shares of what it may be, [shape=(n_members, n_sections, n)]
    echo : source's reflection at 100 Hz
    echo_m : length that turns the echo with frequency
    mach : of the flow at the collector, at 3000 rpm
    """

    stretch: FloatArray
    inlet_k: FloatArray
    outlet_k: FloatArray
    bend: FloatArray
    build: IntArray
    inside: FloatArray
    echo: ComplexArray
    echo_m: FloatArray
    mach: FloatArray


def gas_k(line: ExhaustLine, pieces: Pieces, members: Members, *, at_start: bool) -> FloatArray:
    """Gas in each piece [shape=(n_pieces, n_members)], in its middle or at its start."""
    lengths = members.stretch * line.lengths_m
    ends = np.cumsum(lengths, axis=1)
    inside = pieces.start if at_start else pieces.middle
    at_m = (ends - lengths)[:, pieces.section] + inside * lengths[:, pieces.section]
    share = (at_m / ends[:, -1:]).T
    # gas cools fastest where it is hottest; a parabola is as much as anybody knows
    bent = share + members.bend * share * (1.0 - share)
    warm = members.inlet_k + (members.outlet_k - members.inlet_k) * bent
    return np.asarray(np.clip(warm, COLDEST_K, HOTTEST_K))


def make_chain(
    line: ExhaustLine,
    pieces: Pieces,
    members: Members,
    frequency_hz: FloatArray,
    rpm: FloatArray,
) -> Chain:
    """Matrices of every member at every frequency; ``rpm`` [shape=(n_frequency,)] sets the flow."""
    bores_m = line.bores_m
    bore_m = bores_m[pieces.section][:, None]
    temperature_k = gas_k(line, pieces, members, at_start=False)
    gas = exhaust_gas(temperature_k)
    impedance = _impedance(gas, bore_m)
    mach = _mach(members, temperature_k, gas, bores_m[0] / bore_m)[..., None] * rpm / _MACH_RPM
    lengths = members.stretch * line.lengths_m
    length_m = (lengths[:, pieces.section] * pieces.share).T
    per_m = duct.propagation_per_m(frequency_hz, gas.spread(), bore_m[..., None])
    # with and against the stream, half each: what a level can show of the flow; part by part, since
    # numpy has no product of a complex number and a real one
    stretched_m = length_m[..., None] / (1.0 - mach**2)
    per_m.real *= stretched_m
    per_m.imag *= stretched_m
    step = _steps(line, pieces, gas, impedance, mach, frequency_hz)
    return Chain(
        phase=per_m,
        impedance=impedance[..., None],
        step=step,
        two_port=_mufflers(line, pieces, members, gas, mach, frequency_hz),
        reflection=_reflection(members, frequency_hz, gas.speed_of_sound_m_s[0]),
        outlet=radiation_impedance(
            frequency_hz,
            line.outlet_bores_m[-1] / 2.0,
            gas.speed_of_sound_m_s[-1][:, None],
            _impedance(gas, line.outlet_bores_m[pieces.section][:, None])[-1][:, None],
        ),
    )


def _mufflers(
    line: ExhaustLine,
    pieces: Pieces,
    members: Members,
    gas: Gas,
    mach: FloatArray,
    frequency_hz: FloatArray,
) -> dict[int, Matrix]:
    """Two-ports of the pieces that are mufflers; ``mach`` is that of the pipe before each."""
    made = {}
    for piece, number in enumerate(pieces.section):
        if line.sections[number].kind.takes_branch:
            continue
        flow = mach[piece] * circle_m2(line.bores_m[number])
        made[piece] = two_port(
            line,
            int(number),
            members.build[:, number],
            members.inside[:, number],
            members.stretch[:, number] * line.lengths_m[number],
            Medium(frequency_hz=frequency_hz, gas=_of_piece(gas, piece), flow=flow),
        )
    return made


def _of_piece(gas: Gas, piece: int) -> Gas:
    return replace(
        gas,
        speed_of_sound_m_s=gas.speed_of_sound_m_s[piece],
        kinematic_viscosity_m2_s=gas.kinematic_viscosity_m2_s[piece],
        heat_capacity_ratio=gas.heat_capacity_ratio[piece],
    ).spread()


def mach_at(line: ExhaustLine, pieces: Pieces, members: Members, rpm: FloatArray) -> FloatArray:
    """Mach number at the start of each piece, [shape=(n_pieces, n_members, n_frequency)]."""
    bores_m = line.bores_m
    temperature_k = gas_k(line, pieces, members, at_start=True)
    narrower = bores_m[0] / bores_m[pieces.section][:, None]
    mach = _mach(members, temperature_k, exhaust_gas(temperature_k), narrower)
    return np.asarray(mach[..., None] * rpm / _MACH_RPM)


def _mach(
    members: Members, temperature_k: FloatArray, gas: Gas, narrower: FloatArray
) -> FloatArray:
    """Let the same mass flow everywhere, so that Mach goes with T / (c S)."""
    hot = exhaust_gas(members.inlet_k).speed_of_sound_m_s / members.inlet_k
    return np.asarray(members.mach * narrower**2 * temperature_k / gas.speed_of_sound_m_s * hot)


def _impedance(gas: Gas, bore_m: FloatArray) -> FloatArray:
    """``rho c / S``, with ``rho c = gamma P / c``."""
    area = np.pi / 4.0 * bore_m**2
    return np.asarray(gas.heat_capacity_ratio * PRESSURE_PA / gas.speed_of_sound_m_s / area)


def _steps(
    line: ExhaustLine,
    pieces: Pieces,
    gas: Gas,
    impedance: FloatArray,
    mach: FloatArray,
    frequency_hz: FloatArray,
) -> dict[int, ComplexArray]:
    """Series impedance where a pipe's bore changes: mass of the fanning flow, loss of its eddies.

    Mass: see :func:`analysis.acoustics.end_correction.widening_correction_m`. Loss:
    Borda and Carnot's, linearised about the mean flow.
    """
    steps, bores_m = {}, line.bores_m
    for piece in np.flatnonzero(np.diff(pieces.section)) + 1:
        sections = pieces.section[piece - 1 : piece + 1]
        if not all(line.sections[number].kind.takes_branch for number in sections):
            continue  # a muffler's own matter
        pair = bores_m[sections]
        ratio = float(pair.min() / pair.max())
        if ratio > _NEARLY_EQUAL:
            continue
        narrow = piece - 1 if pair[0] < pair[1] else piece
        speed = gas.speed_of_sound_m_s[narrow][:, None]
        longer_m = widening_correction_m(float(pair.min()), float(pair.max()))
        loss = (1.0 - ratio**2) ** 2 if pair[1] > pair[0] else 0.5 * (1.0 - ratio**2)
        per_z = 2j * np.pi * frequency_hz / speed * longer_m + loss * mach[narrow]
        steps[int(piece)] = impedance[narrow][:, None] * per_z
    return steps


def _reflection(members: Members, frequency_hz: FloatArray, speed_m_s: FloatArray) -> ComplexArray:
    # there and back, so twice the length's phase
    turn = 4.0 * np.pi * (frequency_hz - _ECHO_HZ) * (members.echo_m / speed_m_s)[:, None]
    return np.asarray(members.echo[:, None] * np.exp(-1j * turn))
