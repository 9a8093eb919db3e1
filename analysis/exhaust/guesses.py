"""Many exhausts at once, each a guess at the real one: from lengths and gas to a network."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.acoustics import duct
from analysis.acoustics.duct import Matrix
from analysis.acoustics.gas import COLDEST_K, HOTTEST_K, Gas, exhaust_gas
from analysis.acoustics.muffler_parts import Medium, circle_m2, step
from analysis.acoustics.network import Duct, Network, OpenEnd, Source, radiation_impedance
from analysis.acoustics.two_port import Element, InSeries, Row, Tube
from analysis.basics.arrays import ComplexArray, FloatArray, IntArray
from analysis.basics.rows import rows
from analysis.exhaust.layout import Layout
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.muffler_guesses import two_port

# The engine speed and the frequency that a guess's flow and echo are stated for: a definition, but
# one that the ranges in prior belong to; 20 % more moves a length by 17 to 22 mm, as 20 % more of a
# range does.
_MACH_RPM = 3000.0
_ECHO_HZ = 100.0  # where a source's echo has the phase it is said to have
# ratio of bores above which a step is none; judgement: smaller steps echo 5 % at most
_NEARLY_EQUAL = 0.95
# sound in the air about the car, ISO 9613-1 at 20 degC; 5 % more only says the paths are as much
# longer
_AIR_M_S = 343.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Members:
    """Guesses at one exhaust; arrays [shape=(n_members,)], of what it has many [(n_members, n)].

    Attributes
    ----------
    stretch : true length of each section over what its owner measured
    inlet_k, outlet_k : gas at the two ends
    bend : how much faster than a straight line the gas cools at the hot end, 0 to 1
    warmer_k : gas in each pipe above what its distance from the collector says
    build : which of its kind's builds each section is, [shape=(n_members, n_sections)]
    inside : what is in each, as shares of what it may be, [shape=(n_members, n_sections, n)]
    echo : the sources' reflection at 100 Hz
    echo_m : length that turns the echo with frequency
    mach : of the flow at the first collector, at 3000 rpm
    pulse : strength and turn of each source, over the first's
    ear, ear_m : how much of each open end is heard, and how much farther away it is, over the first
    """

    stretch: FloatArray
    inlet_k: FloatArray
    outlet_k: FloatArray
    bend: FloatArray
    warmer_k: FloatArray
    build: IntArray
    inside: FloatArray
    echo: ComplexArray
    echo_m: FloatArray
    mach: FloatArray
    pulse: ComplexArray
    ear: FloatArray
    ear_m: FloatArray


def gas_k(layout: Layout, members: Members, *, at_start: bool) -> FloatArray:
    """Gas in each piece [shape=(n_pieces, n_members)], in its middle or at its start."""
    line, pieces = layout.line, layout.pieces
    lengths = members.stretch * line.lengths_m
    starts, longest = _starts_m(line, lengths)
    inside = pieces.start if at_start else pieces.middle
    at_m = starts[:, pieces.section] + inside * lengths[:, pieces.section]
    share = (at_m / longest[:, None]).T
    # gas cools fastest where it is hottest; a parabola is as much as anybody knows
    bent = share + members.bend * share * (1.0 - share)
    warm = members.inlet_k + (members.outlet_k - members.inlet_k) * bent
    # one more than there are pipes: a crossover's tube is numbered past the last, and no warmer
    warmer = np.pad(members.warmer_k, ((0, 0), (0, 1)))[:, pieces.pipe].T
    return np.asarray(np.clip(warm + warmer, COLDEST_K, HOTTEST_K))


def make_network(
    layout: Layout,
    members: Members,
    frequency_hz: FloatArray,
    rpm: FloatArray,
) -> Network:
    """Every member at every frequency; ``rpm`` [shape=(n_frequency,)] sets the flow."""
    ducts = make_ducts(layout, members, frequency_hz, rpm)
    return between_ends(layout, members, frequency_hz, ducts)


def make_ducts(
    layout: Layout,
    members: Members,
    frequency_hz: FloatArray,
    rpm: FloatArray,
) -> tuple[Duct, ...]:
    """Make the pipes and mufflers: each run of the layout a duct, each piece an element of it."""
    temperature_k = gas_k(layout, members, at_start=False)
    gas = exhaust_gas(temperature_k)
    impedance = _impedance(gas, layout.pieces.bore_m[:, None])
    mach = _mach(layout, members, temperature_k, gas)[..., None] * rpm / _MACH_RPM
    phase = _phase(layout, members, gas, mach, frequency_hz)
    steps = _steps(layout, gas, mach, frequency_hz)
    mufflers = _mufflers(layout, members, gas, mach, frequency_hz)
    tubes = (Tube(phase=p, impedance=z[:, None]) for p, z in zip(phase, impedance, strict=True))
    whole = [
        mufflers.get(piece) or _with_step(tube, steps.get(piece))
        for piece, tube in enumerate(tubes)
    ]
    return tuple(
        Duct(start=run.start, end=run.end, elements=whole[run.first : run.stop])
        for run in layout.runs
    )


def between_ends(
    layout: Layout,
    members: Members,
    frequency_hz: FloatArray,
    ducts: tuple[Duct, ...],
) -> Network:
    """Put sources in front of ducts, and open air behind them."""
    gas = exhaust_gas(gas_k(layout, members, at_start=False))
    impedance = _impedance(gas, layout.pieces.bore_m[:, None])
    return Network(
        ducts=ducts,
        sources=tuple(
            _source(
                node,
                members.pulse[:, number, None] / impedance[first][:, None],
                1.0 / impedance[first][:, None],
                _echo(members, frequency_hz, gas.speed_of_sound_m_s[first]),
            )
            for number, (node, first) in enumerate(layout.sources)
        ),
        open_ends=tuple(
            OpenEnd(
                node=node,
                impedance=_radiation(layout, gas, last, frequency_hz),
                weight=_weight(members, number, frequency_hz),
            )
            for number, (node, last) in enumerate(layout.open_ends)
        ),
    )


def mach_at(layout: Layout, members: Members, rpm: FloatArray) -> FloatArray:
    """Mach number at the start of each piece, [shape=(n_pieces, n_members, n_frequency)]."""
    temperature_k = gas_k(layout, members, at_start=True)
    mach = _mach(layout, members, temperature_k, exhaust_gas(temperature_k))
    return np.asarray(mach[..., None] * rpm / _MACH_RPM)


def mass_per_m(layout: Layout, members: Members) -> FloatArray:
    """Density over cross-section at the start of each piece, kg/m4, [(n_pieces, n_members)]."""
    gas = exhaust_gas(gas_k(layout, members, at_start=True))
    return np.asarray(gas.density_kg_m3 / circle_m2(layout.pieces.bore_m[:, None]))


def _starts_m(line: ExhaustLine, lengths: FloatArray) -> tuple[FloatArray, FloatArray]:
    """From the collector to each section [shape=(n_members, n_sections)]; the longest way out."""
    starts = np.zeros_like(lengths)
    ends: list[FloatArray] = []
    for number, pipe in enumerate(line.pipes):
        own = slice(*line.firsts[number : number + 2])
        behind = np.cumsum(lengths[:, own], axis=1)
        starts[:, own] = behind - lengths[:, own]
        # pipes stand upstream first: what feeds this one has its end already
        if pipe.feeds:
            from_m = np.max([ends[feed] for feed in pipe.feeds], axis=0)
            starts[:, own] += from_m[:, None]
            behind += from_m[:, None]
        ends.append(behind[:, -1])
    section = int(line.firsts[-1])
    for crossover in line.crossovers:
        if crossover.tube is not None:
            at, share = line.spot(crossover.pipes[0], crossover.at_m[0])
            starts[:, section] = starts[:, at] + share * lengths[:, at]
            section += 1
    return starts, np.max([ends[number] for number in line.open_pipes], axis=0)


def _mach(layout: Layout, members: Members, temperature_k: FloatArray, gas: Gas) -> FloatArray:
    """Let the gas of each bank stream on, so that Mach goes with flow T / (c S)."""
    first, stream = layout.sources[0][1], layout.flow_share / layout.pieces.bore_m**2
    more = stream / stream[first]
    # a guess's Mach is that at the first collector: what the heat there makes of it comes out
    hot = exhaust_gas(members.inlet_k).speed_of_sound_m_s / members.inlet_k
    return np.asarray(members.mach * more[:, None] * temperature_k / gas.speed_of_sound_m_s * hot)


def _phase(
    layout: Layout,
    members: Members,
    gas: Gas,
    mach: FloatArray,
    frequency_hz: FloatArray,
) -> ComplexArray:
    """Propagation constant times length, [shape=(n_pieces, n_members, n_frequency)]."""
    pieces = layout.pieces
    lengths = members.stretch * layout.line.lengths_m
    length_m = (lengths[:, pieces.section] * pieces.share).T
    per_m = duct.propagation_per_m(frequency_hz, gas.spread(), pieces.bore_m[:, None, None])
    # with and against the stream, half each: what a level can show of the flow; part by part, since
    # numpy has no product of a complex number and a real one
    stretched_m = length_m[..., None] / (1.0 - mach**2)
    per_m.real *= stretched_m
    per_m.imag *= stretched_m
    return per_m


def _mufflers(
    layout: Layout,
    members: Members,
    gas: Gas,
    mach: FloatArray,
    frequency_hz: FloatArray,
) -> dict[int, Matrix]:
    """Two-ports of the pieces that are mufflers; ``mach`` is that of the pipe before each."""
    made, line = {}, layout.line
    for piece, number in enumerate(layout.pieces.section):
        if line.sections[number].kind.takes_branch:
            continue
        flow = mach[piece] * circle_m2(line.bores_m[number])
        made[piece] = two_port(
            line,
            int(number),
            members.build[:, number],
            members.inside[:, number],
            members.stretch[:, number] * line.lengths_m[number],
            Medium(frequency_hz=frequency_hz, gas=rows(gas, piece).spread(), flow=flow),
        )
    return made


def _radiation(layout: Layout, gas: Gas, piece: int, frequency_hz: FloatArray) -> ComplexArray:
    """Radiation impedance behind a piece; what ends in a muffler ends in the pipe out of it."""
    bore_m = layout.line.outlet_bores_m[layout.pieces.section[piece]]
    at = rows(gas, piece).spread()
    return radiation_impedance(
        frequency_hz, bore_m / 2.0, at.speed_of_sound_m_s, _impedance(at, bore_m)
    )


def _impedance(gas: Gas, bore_m: FloatArray) -> FloatArray:
    """``rho c / S``."""
    return np.asarray(gas.rho_c / circle_m2(bore_m))


def _steps(
    layout: Layout,
    gas: Gas,
    mach: FloatArray,
    frequency_hz: FloatArray,
) -> dict[int, ComplexArray]:
    """Series impedance where a pipe's bore changes, by the piece in front of it."""
    steps, line, section = {}, layout.line, layout.pieces.section
    for piece, before in enumerate(layout.before):
        if before < 0 or section[before] == section[piece]:
            continue
        sections = section[[before, piece]]
        if not all(line.sections[number].kind.takes_branch for number in sections):
            continue  # a muffler's own matter
        pair = line.bores_m[sections]
        ratio = float(pair.min() / pair.max())
        if ratio > _NEARLY_EQUAL:
            continue
        # the mass of a step moves in the narrow pipe, and the speed there makes its loss
        narrow = int(before) if pair[0] < pair[1] else piece
        at = Medium(
            frequency_hz=frequency_hz,
            gas=rows(gas, narrow).spread(),
            flow=mach[narrow] * circle_m2(float(pair.min())),
        )
        steps[int(before)] = step(at, float(pair[0]), float(pair[1]))
    return steps


def _with_step(tube: Tube, step: ComplexArray | None) -> Element:
    return tube if step is None else Row((tube, InSeries(impedance=step)))


def _source(node: int, strength: ComplexArray, own: FloatArray, echo: ComplexArray) -> Source:
    """Send a wave into the pipe, of admittance ``own``; the engine throws back an echo."""
    per_z = 1.0 / (1.0 + echo)
    return Source(node=node, flow=2.0 * strength * per_z, admittance=own * (1.0 - echo) * per_z)


def _echo(members: Members, frequency_hz: FloatArray, speed_m_s: FloatArray) -> ComplexArray:
    # there and back, so twice the length's phase
    turn = 4.0 * np.pi * (frequency_hz - _ECHO_HZ) * (members.echo_m / speed_m_s)[:, None]
    return np.asarray(members.echo[:, None] * np.exp(-1j * turn))


def _weight(members: Members, number: int, frequency_hz: FloatArray) -> ComplexArray:
    """How an open end reaches the cabin, over the first; nobody knows the way, so any is tried."""
    turn = 2.0 * np.pi * frequency_hz / _AIR_M_S * members.ear_m[:, number, None]
    return np.asarray(members.ear[:, number, None] * np.exp(-1j * turn))
