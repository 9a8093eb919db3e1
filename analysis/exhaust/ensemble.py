"""Guesses at the exhaust that would sound as the drive did.

Drawn within what the owner's measurements leave open, the guesses that come nearest the measured
curve are each fitted to it (see :mod:`analysis.exhaust.fitting`). What the curve does not tell
stays as wide as it was drawn. Source and cabin are taken to change slowly with frequency, so a
polynomial trend is left out of the comparison.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from analysis.acoustics.cabin import Cabin
from analysis.acoustics.duct import Matrix
from analysis.acoustics.network import Duct, multiplied
from analysis.acoustics.network import heard as heard_flow
from analysis.acoustics.tail_ratio import TailRatio, slow_terms
from analysis.basics.arrays import ComplexArray, FloatArray, IntArray
from analysis.basics.rows import in_pairs, joined, rows
from analysis.exhaust.fitting import meet, shared_weight, tempered_choice, tempered_weight
from analysis.exhaust.guesses import Members, between_ends, make_ducts
from analysis.exhaust.layout import lay_out
from analysis.exhaust.line import ExhaustLine, cut
from analysis.exhaust.prior import CABIN_SIZE, Prior, Slip, beside_at, cabins

# judgement: guesses drawn, fitted, and steps of each fit: fewer are quicker and tell the ranges
# more coarsely. 20 % more of any, which also draws other guesses, moves a length by 16 to 26 mm and
# the outlook by 0.5 to 0.8 dB, on a cure that is flat about its best.
_DRAWN, _FITTED, _STEPS = 1200, 128, 8
# judgement: fewer guesses that count tell no range: then those are fitted on, so many times over,
# and what is still missing is lent by worse ones.
FEWEST, _TRIES = 40, 2
# judgement: what is left between drive and guesses above which something in the car file is taken
# to be wrong: twice what a fit leaves of the noise of a drive. What is left beyond it is added to
# the range foretold; no length moves.
MISSES_DB = 1.0
# judgement: cabins tried with each guess drawn; they cost little
_CABINS = 4
# judgement: as many where a microphone at the tail tells of them: then few fit
_CABINS_TOLD = 24
# judgement: pieces of even gas; 20 % more moves a length by 6 mm, the outlook by 0.1 dB.
COARSE_M = 0.30
# guesses, so that they stay in the processor's cache; judgement: moves no answer
_AT_ONCE = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredCurve:
    """The order's level before, [shape=(n,)]; frequency and engine speed rise together.

    ``sigma_db`` is its noise, and what the model leaves out; ``trend_terms`` how many terms the
    slow trend of source and cabin may have.
    """

    frequency_hz: FloatArray
    rpm: FloatArray
    level_db: FloatArray
    drone_hz: float
    sigma_db: float
    trend_terms: int
    tail: TailRatio | None = None

    @property
    def trend(self) -> FloatArray:
        """Even polynomials that make up any slow trend, [shape=(n, trend_terms)], orthonormal."""
        # orthonormal, so that a plain product takes the trend out of all guesses at once
        return np.linalg.qr(slow_terms(self.frequency_hz, self.trend_terms))[0]

    def in_pairs(self) -> MeasuredCurve:
        """Give the mean of each two neighbours, with as much less noise: a quicker fit."""
        return replace(
            self,
            frequency_hz=in_pairs(self.frequency_hz),
            rpm=in_pairs(self.rpm),
            level_db=in_pairs(self.level_db),
            sigma_db=self.sigma_db / np.sqrt(2.0),
            tail=None if self.tail is None else self.tail.in_pairs(),
        )

    def on_trend(self, level_db: FloatArray) -> FloatArray:
        """Put levels [shape=(n_members, n)] on the slow trends that bring them nearest to this."""
        trend = self.trend
        return np.asarray(level_db + ((self.level_db - level_db) @ trend) @ trend.T)


@dataclass(frozen=True, slots=True, kw_only=True)
class InCabin:
    """What is heard; ``beside`` is what comes another way over what comes from the outlet.

    ``way`` is what all of it makes of the outlet's sound.

    [shape=(n_members, n_frequency)] both; the level's zero is arbitrary.
    """

    level_db: FloatArray
    beside: ComplexArray
    way: ComplexArray


def in_cabin(heard: MeasuredCurve, outlet: ComplexArray, cabin: Cabin) -> InCabin:
    """Put together what is heard where the outlets give ``outlet`` [(n_members, n_frequency)]."""
    beside = cabin.other_way(outlet, heard.frequency_hz, heard.drone_hz)
    lifted = cabin.lifted(heard.frequency_hz)
    level_db = 20.0 * np.log10(np.abs(outlet) * np.abs(1.0 + beside))
    return InCabin(
        level_db=level_db + 20.0 * np.log10(np.abs(lifted)),
        beside=beside,
        way=(1.0 + beside) * lifted,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Guesses:
    """Exhausts, and the cabins that go with them."""

    members: Members
    cabin: Cabin

    def picked(self, which: IntArray) -> Guesses:
        """Give these of them, each as often as it is named."""
        return Guesses(members=rows(self.members, which), cabin=rows(self.cabin, which))


def guesses_at(prior: Prior, at: FloatArray) -> Guesses:
    """Guesses at these coordinates, one for each row: the exhaust's first, then the cabin's."""
    exhaust, cabin = np.split(at, [prior.size], axis=1)
    return Guesses(members=prior.members(exhaust), cabin=cabins(cabin))


@dataclass(frozen=True, kw_only=True)
class Ensemble:
    """Fitted guesses.

    ``misfit`` [shape=(n_members,)] is the sum of squares that each leaves of all that was heard,
    over its deviation, ``left_db2`` the mean square that it leaves of the level.
    """

    guesses: Guesses
    misfit: FloatArray
    left_db2: FloatArray

    @cached_property
    def weight(self) -> FloatArray:
        """How much each counts, [shape=(n_members,)], in sum one."""
        return shared_weight(self.misfit, FEWEST)

    @property
    def misfit_db(self) -> float:
        """Weighted root mean square of what is left between curve and model."""
        return float(np.sqrt(np.sum(self.weight * self.left_db2)))

    @property
    def counting(self) -> float:
        """How many guesses as good as each other would tell as much as these."""
        return _counting(self.misfit)


def fit_ensemble(
    line: ExhaustLine,
    engine_order: float | None,
    heard: MeasuredCurve,
    rng: np.random.Generator,
    progress: Callable[[float], None],
    slip: Slip | None = None,
    count: int = _FITTED,
) -> Ensemble:
    """Draw guesses and fit ``count`` to what was heard, on until enough count or time is up.

    With a ``slip`` one length is taken for another than was typed.
    """
    prior = Prior(line=line, engine_order=engine_order, slips=() if slip is None else (slip,))
    whole, few = ExhaustModel(prior, heard), heard.in_pairs()
    model = ExhaustModel(prior, few)
    start = _near(model, prior, few, rng, count)
    # each guess meets its own noisy copy, or all would end in one point and the range be too narrow
    wanted = few.level_db + few.sigma_db * rng.standard_normal((count, few.level_db.size))
    if few.tail is not None:
        wanted = np.concatenate([wanted, _parts(few.tail.noisy(count, rng))], axis=1)
    fitted = start
    for tried in range(_TRIES):
        fitted = meet(
            model.residual,
            start,
            wanted,
            _STEPS,
            model.free,
            _part_of(progress, tried),
            fitted,
        )
        left = whole.residual(fitted, whole.heard)
        misfit = np.sum(left**2, axis=1)
        if _counting(misfit) >= FEWEST * count / _FITTED:
            break
    of_level = np.mean(left[:, : heard.rpm.size] ** 2, axis=1)
    left_db2 = heard.sigma_db**2 * of_level
    return Ensemble(guesses=guesses_at(prior, fitted), misfit=misfit, left_db2=left_db2)


def pooled(one: Ensemble, other: Ensemble) -> Ensemble:
    """Put the guesses of two ensembles together, each as good as it meets what was heard."""
    ours, theirs = one.guesses, other.guesses
    members, cabin = joined(ours.members, theirs.members), joined(ours.cabin, theirs.cabin)
    return replace(joined(one, other), guesses=Guesses(members=members, cabin=cabin))


def _counting(misfit: FloatArray) -> float:
    return 1.0 / float(np.sum(tempered_weight(misfit) ** 2))


def _part_of(progress: Callable[[float], None], tried: int) -> Callable[[float], None]:
    return lambda done: progress((tried + done) / _TRIES)


def _near(
    model: ExhaustModel, prior: Prior, heard: MeasuredCurve, rng: np.random.Generator, count: int
) -> FloatArray:
    """Draw exhausts, several cabins to each, and keep those to start from."""
    drawn = _DRAWN * count // _FITTED
    exhaust = rng.standard_normal((drawn, prior.size))
    cabins_each = _CABINS if heard.tail is None else _CABINS_TOLD
    tried = [
        np.hstack([exhaust, rng.standard_normal((drawn, model.size - prior.size))])
        for _ in range(cabins_each)
    ]
    tried = [model.met_by_tail(each) for each in tried]
    misfit = np.concatenate(
        [np.sum(model.residual(each, model.heard) ** 2, axis=1) for each in tried]
    )
    kinds = np.tile(prior.kinds(exhaust), cabins_each)
    return np.concatenate(tried)[tempered_choice(misfit, kinds, count, rng)]


class _Kept:
    """What was worked out last: arrays with a row for each guess that was asked for."""

    def __init__(self) -> None:
        self._row_of: dict[bytes, int] = {}
        self._arrays: list[ComplexArray] = []

    def of(
        self, at: FloatArray, work_out: Callable[[IntArray], list[ComplexArray]]
    ) -> list[ComplexArray]:
        """Give them for guesses at these coordinates, kept or worked out now, each but once."""
        asked = [row.tobytes() for row in at]
        first = {each: number for number, each in reversed(list(enumerate(asked)))}
        new = {each: number for each, number in first.items() if each not in self._row_of}
        if new:
            made = work_out(np.array(list(new.values())))
            kept = [each for each in first if each in self._row_of]
            rows_kept = [self._row_of[each] for each in kept]
            if kept:
                made = [
                    np.concatenate([old[rows_kept], now])
                    for old, now in zip(self._arrays, made, strict=True)
                ]
            self._arrays = made
            self._row_of = {each: number for number, each in enumerate([*kept, *new])}
        which = [self._row_of[each] for each in asked]
        return [each[which] for each in self._arrays]


class ExhaustModel:
    """Level that guesses give, compared with one curve, its slow trend left out.

    What the ducts do, and what the exhaust lets out, is kept: many guesses asked for next differ in
    the ends alone, or only in the cabin.
    """

    def __init__(self, prior: Prior, heard: MeasuredCurve) -> None:
        self._prior, self._heard = prior, heard
        self._layout = lay_out(cut(prior.line, COARSE_M))
        self._trend = heard.trend
        self._ducts, self._outlets = _Kept(), _Kept()

    @property
    def size(self) -> int:
        """How many coordinates there are: of exhaust, cabin and the delay to the tail."""
        return self._prior.size + CABIN_SIZE + (self._heard.tail is not None)

    @property
    def free(self) -> IntArray:
        """Coordinates that a fit may move: first those of which most is kept."""
        ends = self._prior.at_ends
        cabin, exhaust = np.arange(self._prior.size, self.size), np.arange(self._prior.size)
        inside = np.setdiff1d(exhaust, [*ends, *self._prior.choices])
        return np.concatenate([cabin, ends, inside])

    @property
    def heard(self) -> FloatArray:
        """All that was measured, in one row: the level, and parts of the ratio to the tail."""
        heard = self._heard
        if heard.tail is None:
            return heard.level_db
        return np.concatenate([heard.level_db, _parts(heard.tail.ratio)])

    def _inside(self, at: FloatArray) -> InCabin:
        """[shape=(n_guesses, n_frequency)], with an arbitrary zero."""
        exhaust, cabin = np.split(at, [self._prior.size], axis=1)
        return in_cabin(self._heard, self._outlet(exhaust), cabins(cabin))

    def met_by_tail(self, at: FloatArray) -> FloatArray:
        """Let as much come another way as the ratio to the tail says, if anybody measured it."""
        heard = self._heard
        if heard.tail is None:
            return at
        exhaust, rest = np.split(at, [self._prior.size], axis=1)
        cabin = cabins(rest)
        even = replace(cabin, beside=np.ones_like(cabin.beside))
        other = even.other_way(self._outlet(exhaust), heard.frequency_hz, heard.drone_hz)
        way = cabin.lifted(heard.frequency_hz)
        best = heard.tail.beside(way, other, rest[:, -1], heard.drone_hz)
        return np.hstack([exhaust, beside_at(best), rest[:, 2:]])

    def _outlet(self, at: FloatArray) -> ComplexArray:
        return self._outlets.of(at, lambda which: [self._let_out(at[which])])[0]

    def _let_out(self, at: FloatArray) -> ComplexArray:
        members, heard, layout = self._prior.members(at), self._heard, self._layout
        inside = np.delete(at, self._prior.at_ends, axis=1)
        poles = self._ducts.of(inside, lambda which: self._four_poles(rows(members, which)))
        outlet = np.empty((at.shape[0], heard.rpm.size), dtype=np.complex128)
        for few in _few_at_once(at.shape[0]):
            ducts = tuple(
                Duct(start=run.start, end=run.end, elements=(_four_pole(numbers[few]),))
                for run, numbers in zip(layout.runs, poles, strict=True)
            )
            some = rows(members, few)
            flow = heard_flow(between_ends(layout, some, heard.frequency_hz, ducts))
            outlet[few] = heard.frequency_hz * flow
        return outlet

    def _four_poles(self, members: Members) -> list[ComplexArray]:
        """Give the four numbers of each duct, [shape=(n_guesses, 4, n_frequency)] each."""
        found = []
        for few in _few_at_once(members.mach.size):
            some, heard = rows(members, few), self._heard
            ducts = make_ducts(self._layout, some, heard.frequency_hz, heard.rpm)
            poles = map(multiplied, ducts)
            found.append([np.stack([m.a, m.b, m.c, m.d], axis=1) for m in poles])
        return [np.concatenate(each) for each in zip(*found, strict=True)]

    def residual(self, at: FloatArray, wanted: FloatArray) -> FloatArray:
        """Give what guesses at these coordinates leave of what was measured, over sigma."""
        inside, heard = self._inside(at), self._heard
        size = heard.rpm.size
        rest = wanted[..., :size] - inside.level_db
        rest = (rest - (rest @ self._trend) @ self._trend.T) / heard.sigma_db
        if heard.tail is None:
            return np.asarray(rest)
        real, imaginary = np.split(wanted[..., size:], 2, axis=-1)
        of_tail = heard.tail.residual(inside.way, at[:, -1], real + 1j * imaginary)
        return np.concatenate([rest, of_tail], axis=1)


def _few_at_once(count: int) -> Iterator[slice]:
    return (slice(start, start + _AT_ONCE) for start in range(0, count, _AT_ONCE))


def _four_pole(numbers: ComplexArray) -> Matrix:
    a, b, c, d = np.moveaxis(numbers, 1, 0)
    return Matrix(a=a, b=b, c=c, d=d)


def _parts(ratio: ComplexArray) -> FloatArray:
    return np.concatenate([ratio.real, ratio.imag], axis=-1)
