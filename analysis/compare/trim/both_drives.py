"""Guesses at the exhaust, and at its branches, that would sound as the drives before and after did.

As :mod:`analysis.exhaust.ensemble`, with what nobody knows of the branches besides: their gas, the
resistance of their mouths, and how much of the junction's length the stream takes away. What the
branches changed is met too. The cabin is the same in both drives, so it leaves no doubt there; and
the notches of that change tell the gas far better than anyone could guess it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr, ndtri

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.bench.bare_exhaust import BareExhaust, bare_exhaust
from analysis.bench.exhaust_bench import ExhaustBench, Trials
from analysis.compare.trim.built import BuiltBranch
from analysis.exhaust.ensemble import COARSE_M, MeasuredCurve
from analysis.exhaust.fitting import (
    TEMPER,
    meet,
    resampled,
    shared_weight,
    tempered_choice,
    tempered_weight,
)
from analysis.exhaust.layout import lay_out
from analysis.exhaust.line import ExhaustLine, cut
from analysis.exhaust.prior import MOUTH_LOSS, Prior
from analysis.exhaust.stations import stations_at
from analysis.size.branch_gas import GAS_APART, HOTTER_SHARE, BranchGas

# judgement: guesses, steps and ways of the gas: fewer are quicker. 20 % more of any moves where a
# branch works by 0.08 % at most, its gas interval by 2 K and the foretold level by 0.08 dB.
_DRAWN, _FITTED, _STEPS = 1200, 64, 6
_GASES, _HOT_GASES, _PARTS = 24, 12, 8
# judgement: so many guesses count at least: what only a few agree in may be chance. Of 64 fitted,
# three counted of a car whose trim was foretold -21 dB, and got -4.5.
_FEWEST = 24
# judgement: how well two drives tell what the branches did, and the model can meet it; 20 % more
# moves the gas interval by 5 K, where a branch works by 0.04 %.
_CHANGE_DB = 1.5
# judgement: of a change: quieter is noise; 20 % more moves a foretold level 0.07 dB
_FLOOR_DB = -20.0
# judgement: a recorder's gain between the days; 20 % more moves a foretold level 0.06 dB
_GAIN_DB = 3.0
# judgement: at most, than its can, because the stream heats what is near it
_NECK_HOTTER_K = 100.0


def as_trial(built: Sequence[BuiltBranch]) -> Trials:
    """Take branches, all of one tube, each at a station of its own; one row."""
    return Trials(
        place=np.arange(len(built), dtype=np.int64)[np.newaxis],
        length_m=np.array([[branch.length_m for branch in built]]),
        bore_m=built[0].bore_m,
        can=built[0].can,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drives:
    """Both drives over frequency: the level before, and what the branches changed.

    ``near`` [shape=(n_drones, n)] marks what counts as each drone; ``change_db`` [shape=(n,)] is
    NaN where the drive after does not tell.
    """

    before: MeasuredCurve
    near: BoolArray
    change_db: FloatArray

    @property
    def told(self) -> BoolArray:
        """Where the change is known."""
        return np.asarray(np.isfinite(self.change_db))


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditioned:
    """Guesses, all equally likely, on a bench of the built branches' places and the kept one.

    ``gain_db`` [shape=(n_members,)] is what the days changed, not the branches; ``misfit_db`` what
    is left between the change in the drives and in the model, root mean square.
    """

    bench: ExhaustBench
    gain_db: FloatArray
    misfit_db: float


def condition(
    line: ExhaustLine,
    drives: Drives,
    built: Sequence[BuiltBranch],
    gas: BranchGas,
    progress: Callable[[float], None],
    kept: BuiltBranch | None = None,
) -> Conditioned:
    """Draw guesses and fit them to both drives; the station for ``kept`` comes after those built.

    Of all branches the place must be known, and the tube must be one.
    """
    rng = np.random.default_rng(5)  # the same drives give the same answer
    model = _BothDrivesModel(line, drives, built, gas, kept)
    parts = np.array_split(rng.standard_normal((_DRAWN, model.size)), _PARTS)
    drawn, misfits = zip(*[_with_likely_gas(model, part, rng) for part in parts], strict=True)
    misfit = np.concatenate(misfits)
    tried = np.concatenate(drawn)
    start = tried[tempered_choice(misfit, model.kinds(tried), _FITTED, rng)]
    # each guess meets its own draw of the measured, so that the fitted ones keep its spread
    noisy = model.heard + rng.standard_normal((_FITTED, model.heard.size))
    fitted = meet(model.residual, start, noisy, _STEPS, model.free, progress)
    residual = model.residual(fitted, model.heard)
    misfit = np.sum(residual**2, axis=1)
    which = resampled(shared_weight(misfit, _FEWEST), _FITTED, rng)
    missed = np.mean(residual[:, drives.before.rpm.size :] ** 2, axis=1)
    return Conditioned(
        bench=model.bench(fitted[which]),
        gain_db=model.gain_db(fitted[which]),
        misfit_db=_CHANGE_DB * float(np.sqrt(tempered_weight(misfit) @ missed)),
    )


def _with_likely_gas(
    model: "_BothDrivesModel", drawn: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Give each guess a gas that goes with the change; then its misfit.

    A notch far from where it should be pulls no guess towards it, so all gases are tried.
    """
    exhaust = model.exhaust(drawn)
    # quantiles of the prior, closer where it is usual: the hot ones each stand for less of it
    edges = np.linspace(0.0, model.usual, _GASES + 1)
    if model.usual < 1.0:
        edges = np.append(edges, np.linspace(model.usual, 1.0, _HOT_GASES + 1)[1:])
    quantile, share = (edges[1:] + edges[:-1]) / 2.0, np.diff(edges)
    ways = np.repeat(drawn[np.newaxis], share.size, axis=0)
    ways[..., model.gas_at] = ndtri(quantile)[:, np.newaxis]
    misfit = np.stack(
        [np.sum(model.residual_on(exhaust, way, model.heard) ** 2, axis=1) for way in ways]
    )
    # Gumbel noise on a log likelihood draws by likelihood; the best alone would leave no spread
    luck = rng.gumbel(size=misfit.shape)
    best = np.argmax(luck + np.log(share)[:, np.newaxis] - misfit / 2.0 / (2.0 * TEMPER), axis=0)
    rows = np.arange(drawn.shape[0])
    return ways[best, rows], misfit[best, rows]


class _OfBranches(NamedTuple):
    """What the coordinates say of the branches; each [shape=(n_members,)], normal deviates."""

    gas: FloatArray
    second_warmer: FloatArray
    mouth: FloatArray
    swept: FloatArray
    gain: FloatArray
    neck_hotter: FloatArray | None = None  # of cans only


class _BothDrivesModel:
    """From coordinates to both curves, over their deviations.

    The coordinates are the exhaust's, then those of `_OfBranches`, in its order. Exhausts are kept:
    guesses asked for next often differ in their branches alone.
    """

    def __init__(
        self,
        line: ExhaustLine,
        drives: Drives,
        built: Sequence[BuiltBranch],
        gas: BranchGas,
        kept: BuiltBranch | None,
    ) -> None:
        self._drives, self._built, self._gas_k = drives, as_trial(built), gas.branch_k
        self._hottest_k = max(gas.branch_k.high, gas.hottest_k or 0.0)
        # the rest of the guesses are hotter, up to the rare case of the sizing
        self.usual = 1.0 - HOTTER_SHARE if self._hottest_k > gas.branch_k.high else 1.0
        heard = drives.before
        order = 60.0 * float(heard.frequency_hz[0] / heard.rpm[0])
        self._prior = Prior(line=line, engine_order=order)
        stand = built if kept is None else (*built, kept)
        spots = [(line.pipe_named(each.legs), each.position_m or 0.0) for each in stand]
        mirrored = [
            (n, at_m) for n, p in enumerate(line.pipes) for of, at_m in spots if p.beside == of
        ]
        # cut at the branches, and on pipes that mirror theirs: a branch stands between two pieces
        pieces = cut(line, COARSE_M, [*spots, *mirrored])
        self._layout = lay_out(pieces)
        self._stations = stations_at(pieces, [pieces.at(*line.spot(*spot)) for spot in spots])
        self._trend = heard.trend
        self.gas_at = self._prior.size
        self.size = self._prior.size + len(_OfBranches._fields) - (self._built.can is None)
        self.free = np.setdiff1d(np.arange(self.size), self._prior.choices)
        before = heard.level_db / heard.sigma_db
        self.heard = np.concatenate([before, self._floored(drives.change_db)])
        self._known_at: FloatArray = np.empty((0, self._prior.size))
        self._known: BareExhaust | None = None

    def exhaust(self, at: FloatArray) -> BareExhaust:
        own, heard = at[:, : self._prior.size], self._drives.before
        if self._known is None or not np.array_equal(self._known_at, own):
            parts = self._layout, self._stations, self._prior.members(own)
            self._known_at = own.copy()
            self._known = bare_exhaust(*parts, heard.frequency_hz, heard.rpm)
        return self._known

    def kinds(self, at: FloatArray) -> IntArray:
        return self._prior.kinds(at[:, : self._prior.size])

    def _of_branches(self, at: FloatArray) -> _OfBranches:
        return _OfBranches(*at[:, self.gas_at :].T)

    def residual(self, at: FloatArray, wanted: FloatArray) -> FloatArray:
        return self.residual_on(self.exhaust(at), at, wanted)

    def residual_on(self, exhaust: BareExhaust, at: FloatArray, wanted: FloatArray) -> FloatArray:
        lost = self._bench(exhaust, at).lost(self._built)[0]
        change_db = self.gain_db(at)[:, np.newaxis] - 10.0 * np.log10(lost)
        count, sigma_db = exhaust.level_db.shape[1], self._drives.before.sigma_db
        before = wanted[..., :count] - exhaust.level_db / sigma_db
        # the cabin's slow trend is unknown, so only what departs from one counts
        before = before - (before @ self._trend) @ self._trend.T
        return np.concatenate([before, wanted[..., count:] - self._floored(change_db)], axis=-1)

    def gain_db(self, at: FloatArray) -> FloatArray:
        return np.asarray(_GAIN_DB * self._of_branches(at).gain)

    def bench(self, at: FloatArray) -> ExhaustBench:
        return self._bench(self.exhaust(at), at)

    def _bench(self, exhaust: BareExhaust, at: FloatArray) -> ExhaustBench:
        heard, own = self._drives.before, self._of_branches(at)
        low_k, high_k = self._gas_k.low, self._gas_k.high
        ends_k = [low_k, high_k, self._hottest_k]
        first_k = np.interp(ndtr(own.gas), [0.0, self.usual, 1.0], ends_k)
        apart_k = GAS_APART * (high_k - low_k) * (2.0 * ndtr(own.second_warmer) - 1.0)
        both_k = np.stack([first_k, (first_k + apart_k).clip(low_k, self._hottest_k)], axis=1)
        resistance = MOUTH_LOSS[0] + (MOUTH_LOSS[1] - MOUTH_LOSS[0]) * ndtr(own.mouth)
        hotter = np.zeros_like(own.gas) if own.neck_hotter is None else ndtr(own.neck_hotter)
        return ExhaustBench(
            frequency_hz=heard.frequency_hz,
            near=self._drives.near,
            before_db=heard.on_trend(exhaust.level_db),
            stations=self._stations,
            places=exhaust.places,
            pipe_bore_m=exhaust.pipe_bore_m,
            mass_per_m=exhaust.mass_per_m,
            # those on a pipe that mirrors another are taken to be as warm as theirs
            branch_k=np.minimum(np.hstack([both_k] * 2), exhaust.pipe_k.max(axis=0)[:, np.newaxis]),
            swept=ndtr(own.swept),
            mouth_resistance=exhaust.mach * resistance[:, np.newaxis],
            neck_hotter_k=_NECK_HOTTER_K * hotter,
        )

    def _floored(self, change_db: FloatArray) -> FloatArray:
        """Give what is told of a change, over its deviation."""
        told_db = change_db[..., self._drives.told]
        # power added, not a clip: a deep notch stays deeper than a shallow one
        power = 10.0 ** (0.1 * told_db) + 10.0 ** (0.1 * _FLOOR_DB)
        return np.asarray(10.0 * np.log10(power) / _CHANGE_DB)
