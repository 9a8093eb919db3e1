"""From what is known of a car and its drone to the bench that branches are tried on."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import uniform_filter1d

from analysis.acoustics.tail_ratio import TailRatio
from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.basics.rows import rows
from analysis.bench.bare_exhaust import bare_exhaust
from analysis.bench.exhaust_bench import ExhaustBench, Trials
from analysis.bench.outcome import WORST
from analysis.errors import SizingError
from analysis.exhaust.ensemble import (
    FEWEST,
    MISSES_DB,
    Ensemble,
    Guesses,
    MeasuredCurve,
    fit_ensemble,
    in_cabin,
    pooled,
)
from analysis.exhaust.fitting import resampled, shared_weight
from analysis.exhaust.layout import Layout, lay_out
from analysis.exhaust.line import ExhaustLine, Pieces, cut, has_room, on_pipe
from analysis.exhaust.misread import LeftOut, LengthCheck, check_lengths, left_out
from analysis.exhaust.prior import MOUTH_LOSS
from analysis.exhaust.stations import Stations, on_other, stations_at
from analysis.findings import TailSound
from analysis.size.branch_gas import drawn_k, with_mirrored_k
from analysis.size.drone_curve import DroneCurve

_PIECE_M = 0.04  # judgement: places a hand's width apart; 20 % more moves a length by 2 mm
# judgement: how well a level before is known, and can be met. Smaller ones trust the model more and
# narrow the foretold range; 20 % more of the first moves its worse end by 0.5 dB.
_MEASURED_DB, _ASSUMED_DB = 1.2, 2.0
# Ratio of neighbouring frequencies; judgement: 20 % more moves a length by 3 mm and the outlook by
# 0.2 dB.
_STEP = 1.012
# judgement: as many as are fitted; fewer make the outlook coarser than 1 %. 20 % more, which also
# draws others, moves a length by 26 mm and the outlook by 0.4 dB.
_GUESSES = 128
# judgement: source and cabin change slowly; more terms explain the drone away. One more moves a
# length by 14 mm and the outlook by 0.5 dB.
_TREND_TERMS = 4
# neighbouring frequencies: 5 % of one; judgement: a foot cannot hold a narrower notch.
SMOOTHED = 5
# judgement: temperatures of a branch's gas that a slipped length is judged at; moves no answer
_HEATS = 8
_ASSUMED_ORDER_RPM = 2000.0  # judgement: cruise, for the flow, when no engine order is known


@dataclass(frozen=True, slots=True, kw_only=True)
class _Beside:
    """What of a bench does not hang on the exhaust; the first axis of all is the guesses."""

    branch_k: FloatArray
    swept: FloatArray
    mouth: FloatArray
    left_out_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOut:
    """An exhaust, cut finely, and what was heard of it.

    ``near`` [shape=(n_drones, n_frequency)] marks what counts as each drone.
    """

    layout: Layout
    heard: MeasuredCurve
    near: BoolArray
    is_measured: bool

    def bench(
        self, stations: Stations, guesses: Guesses, beside: _Beside
    ) -> tuple[ExhaustBench, FloatArray | None]:
        """Put guesses on a bench; their levels on the slow trends, of a curve that was measured."""
        heard = self.heard
        parts = self.layout, stations, guesses.members, heard.frequency_hz, heard.rpm
        # single: a hundred thousand trials read it, and where a rounding decides, ties does
        bare = bare_exhaust(*parts, np.complex64)
        inside = in_cabin(heard, bare.outlet, guesses.cabin)
        modelled_db = heard.on_trend(inside.level_db) if self.is_measured else None
        bench = ExhaustBench(
            frequency_hz=heard.frequency_hz,
            near=self.near,
            before_db=_before_db(heard, inside.level_db, modelled_db),
            stations=stations,
            places=bare.places,
            pipe_bore_m=bare.pipe_bore_m,
            mass_per_m=bare.mass_per_m,
            branch_k=beside.branch_k,
            # a branch is fed by the pipe, so it is no hotter than the pipe beside it
            pipe_k=bare.pipe_k,
            swept=beside.swept,
            mouth_resistance=(bare.mach * beside.mouth[:, None]).astype(np.float32),
            left_out_db=beside.left_out_db,
            other_way=inside.beside.astype(np.complex64),
        )
        return bench, modelled_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """The bench, how well the guesses meet the drive, and which places of the bench have room.

    ``lengths`` is what the drive says of the lengths typed, None of a curve that was not measured;
    where it tells one otherwise, as many guesses are fitted with that one, and weighed with those
    as typed; likewise where it tells of a resonator that was left out.

    ``modelled_db`` [shape=(n_members, n_frequency)] is the guesses on their slow trends; None where
    the level before was not measured.
    """

    exhaust: LaidOut
    bench: ExhaustBench
    allowed: IntArray
    ensemble: Ensemble
    lengths: LengthCheck | None
    left_out: LeftOut | None
    modelled_db: FloatArray | None

    @property
    def measured_db(self) -> FloatArray | None:
        """Level before [shape=(n_frequency,)]; None where it was not measured."""
        return self.exhaust.heard.level_db if self.exhaust.is_measured else None


def set_up(
    line: ExhaustLine,
    curve: DroneCurve,
    engine_order: float | None,
    branch_gas_k: Interval,
    progress: Callable[[float], None],
    hottest_k: float | None = None,
    tail: TailSound | None = None,
) -> Setup:
    """Fit the guesses to the curve, and look at every place a branch could go, room or not.

    ``hottest_k`` is how hot the gas in a branch is in the rare case, if that is beyond
    ``branch_gas_k``; nowhere is it hotter than the pipe's at its mouth.

    Raises
    ------
    SizingError
        No room lies on a pipe.
    """
    layout = lay_out(cut(line, _PIECE_M))
    stations = stations_at(layout.pieces, on_pipe(layout.pieces).tolist())
    allowed = _with_room(layout.pieces, stations)
    rng = np.random.default_rng(5)  # the same car gives the same answer
    heard, near = lay_curve_out(curve, engine_order)
    if tail is not None and curve.is_measured:
        heard = replace(heard, tail=_laid_out(tail, heard))
    fitted = heard if curve.is_measured else _only(heard, near)
    ensemble = fit_ensemble(line, engine_order, fitted, rng, progress)
    lengths, hidden = None, None
    if curve.is_measured:
        # drawn on their own, so that a car typed right has the answer that it had
        apart = rng.spawn(1)[0]
        lengths = check_lengths(line, engine_order, fitted, apart)
        ensemble = _with_misread(ensemble, lengths, line, engine_order, fitted, apart)
        if lengths.misread is None:
            hidden = left_out(line, engine_order, fitted, ensemble, apart)
    chosen = resampled(ensemble.weight, _GUESSES, rng)
    guesses = ensemble.guesses.picked(chosen)
    beside = _beside(branch_gas_k, hottest_k, stations, ensemble, rng)
    exhaust = LaidOut(layout=layout, heard=heard, near=near, is_measured=curve.is_measured)
    bench, modelled_db = exhaust.bench(stations, guesses, beside)
    if hidden is not None and modelled_db is not None:
        as_typed = bench, modelled_db
        bench, modelled_db = _with_left_out(as_typed, exhaust, ensemble, hidden, beside, apart)
    return Setup(
        exhaust=exhaust,
        bench=bench,
        allowed=allowed,
        ensemble=ensemble,
        lengths=lengths,
        left_out=hidden,
        modelled_db=modelled_db,
    )


def _with_misread(
    ensemble: Ensemble,
    lengths: LengthCheck,
    line: ExhaustLine,
    engine_order: float | None,
    heard: MeasuredCurve,
    rng: np.random.Generator,
) -> Ensemble:
    """Let a length that the drive tells otherwise count as well, with as many guesses."""
    if lengths.misread is None:
        return ensemble
    slip = lengths.misread.slip(line)
    return pooled(ensemble, fit_ensemble(line, engine_order, heard, rng, lambda _: None, slip))


def _with_left_out(
    as_typed: tuple[ExhaustBench, FloatArray],
    exhaust: LaidOut,
    ensemble: Ensemble,
    hidden: LeftOut,
    beside: _Beside,
    rng: np.random.Generator,
) -> tuple[ExhaustBench, FloatArray]:
    """Let guesses with the resonator that was left out take their part of the bench.

    ``as_typed`` are the bench and its levels without.
    """
    bench, modelled_db = as_typed
    guessed = hidden.guessed
    weight = shared_weight(np.concatenate([ensemble.misfit, guessed.misfit]), FEWEST)
    # each on the mean, since more were fitted as typed
    typed, held = (each.mean() for each in np.split(weight, [ensemble.misfit.size]))
    count = int(np.clip(round(_GUESSES * held / (typed + held)), 1, _GUESSES - 1))
    kept, given = np.split(rng.permutation(_GUESSES), [_GUESSES - count])
    chosen = resampled(guessed.weight, count, rng)
    there = replace(exhaust, layout=lay_out(cut(hidden.line, _PIECE_M)))
    stations = on_other(bench.stations, exhaust.layout.pieces, there.layout.pieces)
    guesses = guessed.guesses.picked(chosen)
    more, more_db = there.bench(stations, guesses, rows(beside, given))
    assert more_db is not None
    joined = bench.thinned(kept, slice(None)).joined(more)
    return joined, np.concatenate([modelled_db[kept], more_db])


def _left_out_db(ensemble: Ensemble, rng: np.random.Generator) -> FloatArray:
    """Spread the outcomes by as much as the drive is missed, beyond what noise explains."""
    beyond_db = np.sqrt(max(ensemble.misfit_db**2 - MISSES_DB**2, 0.0))
    return np.asarray(beyond_db * rng.standard_normal(_GUESSES))


def _with_room(pieces: Pieces, stations: Stations) -> IntArray:
    spots = zip(stations.pipe.tolist(), stations.position_m.tolist(), strict=True)
    clear = set(on_pipe(pieces).tolist())
    together = [all(stations.piece[n] in clear for n in each) for each in stations.places]
    allowed = np.flatnonzero(
        [has_room(pieces.line, *spot) and free for spot, free in zip(spots, together, strict=True)]
    ).astype(np.int64)
    if allowed.size == 0:
        raise SizingError(
            "no place for a branch lies on a pipe after the last catalyst, 50 mm or more from its "
            "ends; check [room] places and the lengths of the exhaust's sections in the car file"
        )
    return allowed


def _beside(
    span: Interval,
    hottest_k: float | None,
    stations: Stations,
    ensemble: Ensemble,
    rng: np.random.Generator,
) -> _Beside:
    branch_k = drawn_k(span, hottest_k, _GUESSES, rng)
    if any(len(places) > 1 for places in stations.places):
        branch_k = with_mirrored_k(branch_k, span, rng)
    # even and shuffled: drawn one by one, so few guesses would leave gaps
    swept = rng.permutation(np.linspace(0.0, 1.0, _GUESSES))
    mouth = rng.permutation(np.linspace(*MOUTH_LOSS, _GUESSES))
    return _Beside(
        branch_k=branch_k,
        swept=swept,
        mouth=mouth,
        left_out_db=_left_out_db(ensemble, rng),
    )


def worse_if_slipped_db(setup: Setup, trials: Trials) -> dict[int, float]:
    """How much less a plan does at worst where a length is off that the drive cannot check.

    By the section's number; ``trials`` has one row. Laid beside each other are the few guesses that
    fit best as typed, and with the length off, each over the whole range of gas in the branch.
    """
    if setup.lengths is None:
        return {}
    whole = setup.bench.stations
    spots = [int(whole.piece[whole.places[number][0]]) for number in trials.place[0]]
    stations = stations_at(setup.exhaust.layout.pieces, spots)
    there = replace(trials, place=np.arange(len(spots))[None])
    by_heat = np.argsort(setup.bench.branch_k[:, 0])
    branch_k = setup.bench.branch_k[by_heat[:: _GUESSES // _HEATS]]

    def worst_db(guesses: Guesses) -> float:
        count = guesses.members.mach.size
        each = np.repeat(np.arange(count), len(branch_k))
        beside = _Beside(
            branch_k=np.tile(branch_k, (count, 1)),
            swept=np.full(each.size, 0.5),
            mouth=np.full(each.size, np.mean(MOUTH_LOSS)),
            left_out_db=np.zeros(each.size),
        )
        bench, _ = setup.exhaust.bench(stations, guesses.picked(each), beside)
        return float(np.quantile(bench.outcome(there).drone_db[0], WORST))

    typed_db = worst_db(setup.lengths.as_typed)
    return {number: worst_db(off) - typed_db for number, off in setup.lengths.untold.items()}


def lay_curve_out(curve: DroneCurve, engine_order: float | None) -> tuple[MeasuredCurve, BoolArray]:
    """Lay the curve out over a few frequencies; tell which of them count as each drone.

    The latter is [shape=(n_drones, n_frequency)].
    """
    low, high = float(curve.frequency_hz[0]), float(curve.frequency_hz[-1])
    # even in ratio, as notches are wide in proportion to their frequency
    count = int(np.ceil(np.log(high / low) / np.log(_STEP))) + 1
    frequency_hz = np.geomspace(low, high, count)
    rpm = np.full(count, _ASSUMED_ORDER_RPM)
    if engine_order is not None:
        rpm = 60.0 / engine_order * frequency_hz
    level_db = np.interp(frequency_hz, curve.frequency_hz, curve.level_db)
    near = np.array(
        [np.interp(frequency_hz, curve.frequency_hz, each) > 0.5 for each in curve.stretches]
    )
    heard = MeasuredCurve(
        frequency_hz=frequency_hz,
        rpm=rpm,
        level_db=level_db,
        drone_hz=float(frequency_hz[np.where(near[0], level_db, -np.inf).argmax()]),
        sigma_db=_MEASURED_DB,
        trend_terms=_TREND_TERMS,
    )
    return heard, near


def _laid_out(tail: TailSound, heard: MeasuredCurve) -> TailRatio:
    """Lay the ratio out over the curve's frequencies; far beyond what it tells it counts little."""
    real, imaginary, sigma = (
        np.interp(heard.rpm, tail.rpm, each)
        for each in (tail.ratio.real, tail.ratio.imag, tail.sigma)
    )
    return TailRatio(frequency_hz=heard.frequency_hz, ratio=real + 1j * imaginary, sigma=sigma)


def _only(heard: MeasuredCurve, near: BoolArray) -> MeasuredCurve:
    """Keep the drone's own stretch of a curve that was not measured; no more is believed."""
    return replace(rows(heard, np.asarray(near.any(axis=0))), sigma_db=_ASSUMED_DB, trend_terms=1)


def _before_db(
    heard: MeasuredCurve, flow_db: FloatArray, modelled_db: FloatArray | None
) -> FloatArray:
    """Each guess's own level, on its slow trend.

    What it still leaves, smoothed, is added: a boom that the exhaust does not make stays in. A
    curve that was not measured has no trend and nothing to add.
    """
    if modelled_db is None:
        return flow_db
    left = uniform_filter1d(heard.level_db - modelled_db, SMOOTHED, axis=1)
    return np.asarray(modelled_db + left)
