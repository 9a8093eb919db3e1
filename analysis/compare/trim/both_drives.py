"""Guesses at the exhaust, and at its branches, that would sound as the drives before and after did.

As :mod:`analysis.exhaust.ensemble`, with what nobody knows of the branches besides: their gas, the
resistance of their mouths, and how much of the junction's length the stream takes away. What the
branches changed is met too. The cabin is the same in both drives, so it leaves no doubt there; and
the notches of that change tell the gas far better than anyone could guess it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np
from scipy.special import ndtr, ndtri

from analysis.acoustics.network import Places, look_at
from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.bench.exhaust_bench import ExhaustBench, Trials
from analysis.branches import Can
from analysis.exhaust.ensemble import COARSE_M, MeasuredCurve
from analysis.exhaust.fitting import TEMPER, meet, resampled, tempered_choice, tempered_weight
from analysis.exhaust.guesses import gas_k, mach_at, make_network, mass_per_m
from analysis.exhaust.layout import lay_out
from analysis.exhaust.line import ExhaustLine, cut
from analysis.exhaust.prior import MOUTH_LOSS, Prior
from analysis.exhaust.stations import stations_at
from analysis.size.branch_gas import GAS_APART

# judgement: guesses, steps and ways of the gas: fewer are quicker. 20 % more of any moves where a
# branch works by 0.08 % at most, its gas interval by 2 K and the foretold level by 0.08 dB.
_DRAWN, _FITTED, _STEPS = 1200, 64, 6
_GASES, _PARTS = 24, 8
# judgement: how well two drives tell what the branches did, and the model can meet it; 20 % more
# moves the gas interval by 5 K, where a branch works by 0.04 %.
_CHANGE_DB = 1.5
# judgement: of a change: quieter is noise; 20 % more moves a foretold level 0.07 dB
_FLOOR_DB = -20.0
# judgement: a recorder's gain between the days; 20 % more moves a foretold level 0.06 dB
_GAIN_DB = 3.0
# judgement: at most, than its can, because the stream heats what is near it
_NECK_HOTTER_K = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Branches as they were welded on, in the order of the flow, all of one bore and can.

    ``legs`` are the pipes that each is on; none named where the exhaust is one pipe.
    """

    position_m: tuple[float, ...]
    legs: tuple[tuple[str, ...], ...]
    length_m: tuple[float, ...]
    bore_m: float
    can: Can | None

    @property
    def longest_m(self) -> float:
        """The longer of the branches."""
        return max(self.length_m)

    @property
    def spots(self) -> tuple[tuple[tuple[str, ...], float], ...]:
        """Pipe and place of each."""
        return tuple(zip(self.legs, self.position_m, strict=True))

    @property
    def alone(self) -> "tuple[Placed, ...]":
        """Each branch as if it were the only one."""
        return tuple(
            replace(self, position_m=(at_m,), length_m=(length_m,), legs=(legs,))
            for at_m, length_m, legs in zip(self.position_m, self.length_m, self.legs, strict=True)
        )

    @property
    def trial(self) -> Trials:
        """One row: each at its own place of the bench."""
        return self.of_lengths(*self.length_m)

    def of_lengths(self, *length_m: float) -> Trials:
        """As `trial`, with other lengths."""
        return Trials(
            place=np.arange(len(length_m), dtype=np.int64)[np.newaxis],
            length_m=np.array(length_m)[np.newaxis],
            bore_m=self.bore_m,
            can=self.can,
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
    built: Placed,
    branch_gas_k: Interval,
    progress: Callable[[float], None],
    kept: Placed | None = None,
) -> Conditioned:
    """Draw guesses and fit them to both drives; stations for ``kept`` come after those built."""
    rng = np.random.default_rng(5)  # the same drives give the same answer
    model = _BothDrivesModel(line, drives, built, branch_gas_k, kept)
    parts = np.array_split(rng.standard_normal((_DRAWN, model.size)), _PARTS)
    drawn, misfits = zip(*[_with_likely_gas(model, part, rng) for part in parts], strict=True)
    misfit = np.concatenate(misfits)
    tried = np.concatenate(drawn)
    start = tried[tempered_choice(misfit, model.kinds(tried), _FITTED, rng)]
    # each guess meets its own draw of the measured, so that the fitted ones keep its spread
    noisy = model.heard + rng.standard_normal((_FITTED, model.heard.size))
    fitted = meet(model.residual, start, noisy, _STEPS, model.free, progress)
    residual = model.residual(fitted, model.heard)
    which = resampled(tempered_weight(np.sum(residual**2, axis=1)), _FITTED, rng)
    changed = residual[which, drives.before.rpm.size :]
    return Conditioned(
        bench=model.bench(fitted[which]),
        gain_db=model.gain_db(fitted[which]),
        misfit_db=_CHANGE_DB * float(np.sqrt(np.mean(changed**2))),
    )


def _with_likely_gas(
    model: "_BothDrivesModel", drawn: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Give each guess a gas that goes with the change; then its misfit.

    A notch far from where it should be pulls no guess towards it, so all gases are tried.
    """
    exhaust = model.exhaust(drawn)
    ways = np.repeat(drawn[np.newaxis], _GASES, axis=0)
    # quantiles of the prior, so that every gas stands for as much of it
    ways[..., model.gas_at] = ndtri((np.arange(_GASES) + 0.5) / _GASES)[:, np.newaxis]
    misfit = np.stack(
        [np.sum(model.residual_on(exhaust, way, model.heard) ** 2, axis=1) for way in ways]
    )
    # Gumbel noise on a log likelihood draws by likelihood; the best alone would leave no spread
    luck = rng.gumbel(size=misfit.shape)
    best = np.argmax(luck - misfit / 2.0 / (2.0 * TEMPER), axis=0)
    rows = np.arange(drawn.shape[0])
    return ways[best, rows], misfit[best, rows]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Exhaust:
    """Guesses without their branches: level at the outlet, and what branches need to know."""

    flow_db: FloatArray
    places: Places
    mach: FloatArray
    mass_per_m: FloatArray
    pipe_k: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _BranchCoordinates:
    """What the coordinates say of the branches; each [shape=(n_members,)], normal deviates."""

    gas: FloatArray
    second_warmer: FloatArray
    mouth: FloatArray
    swept: FloatArray
    gain: FloatArray
    neck_hotter: FloatArray | None  # of cans only


class _BothDrivesModel:
    """From coordinates to both curves, over their deviations.

    The coordinates are the exhaust's, then those of `_BranchCoordinates`, in its order. Exhausts
    are kept: guesses asked for next often differ in their branches alone.
    """

    def __init__(
        self,
        line: ExhaustLine,
        drives: Drives,
        built: Placed,
        branch_gas_k: Interval,
        kept: Placed | None,
    ) -> None:
        self._line, self._drives, self._built = line, drives, built
        heard = drives.before
        order = 60.0 * float(heard.frequency_hz[0] / heard.rpm[0])
        self._prior, self._gas_k = Prior(line=line, engine_order=order), branch_gas_k
        told = (*built.spots, *(() if kept is None else kept.spots))
        spots = [(line.pipe_named(legs), at_m) for legs, at_m in told]
        mirrored = [
            (n, at_m) for n, p in enumerate(line.pipes) for of, at_m in spots if p.beside == of
        ]
        # cut at the branches, and on pipes that mirror theirs: a branch stands between two pieces
        pieces = cut(line, COARSE_M, [*spots, *mirrored])
        self._layout = lay_out(line, pieces)
        self._stations = stations_at(line, pieces, [pieces.at(*line.spot(*s)) for s in spots])
        self._trend = drives.before.trend
        self.gas_at = self._prior.size
        self.size = self._prior.size + len(fields(_BranchCoordinates)) - (built.can is None)
        self.free = np.setdiff1d(np.arange(self.size), self._prior.choices)
        before = drives.before.level_db / drives.before.sigma_db
        self.heard = np.concatenate([before, self._floored(drives.change_db)])
        self._known_at: FloatArray = np.empty((0, self._prior.size))
        self._known: _Exhaust | None = None

    def exhaust(self, at: FloatArray) -> _Exhaust:
        own = at[:, : self._prior.size]
        if self._known is None or not np.array_equal(self._known_at, own):
            self._known_at, self._known = own.copy(), self._looked_at(own)
        return self._known

    def _looked_at(self, at: FloatArray) -> _Exhaust:
        heard, members = self._drives.before, self._prior.members(at)
        parts, piece = (self._line, self._layout, members), self._stations.piece
        where = [self._layout.where(number) for number in piece.tolist()]
        flow, places = look_at(make_network(*parts, heard.frequency_hz, heard.rpm), where)
        return _Exhaust(
            flow_db=20.0 * np.log10(heard.frequency_hz * np.abs(flow)),
            places=places,
            mach=mach_at(*parts, heard.rpm)[piece],
            mass_per_m=mass_per_m(*parts)[piece],
            pipe_k=gas_k(*parts, at_start=True)[piece].max(axis=0),
        )

    def kinds(self, at: FloatArray) -> IntArray:
        return self._prior.kinds(at[:, : self._prior.size])

    def _split(self, at: FloatArray) -> _BranchCoordinates:
        gas, warmer, mouth, swept, gain, *of_can = at[:, self.gas_at :].T
        return _BranchCoordinates(
            gas=gas,
            second_warmer=warmer,
            mouth=mouth,
            swept=swept,
            gain=gain,
            neck_hotter=of_can[0] if of_can else None,
        )

    def residual(self, at: FloatArray, wanted: FloatArray) -> FloatArray:
        return self.residual_on(self.exhaust(at), at, wanted)

    def residual_on(self, exhaust: _Exhaust, at: FloatArray, wanted: FloatArray) -> FloatArray:
        lost = self._bench(exhaust, at).lost(self._built.trial)[0]
        change_db = self.gain_db(at)[:, np.newaxis] - 10.0 * np.log10(lost)
        count, sigma_db = exhaust.flow_db.shape[1], self._drives.before.sigma_db
        before = wanted[..., :count] - exhaust.flow_db / sigma_db
        # the cabin's slow trend is unknown, so only what departs from one counts
        before = before - (before @ self._trend) @ self._trend.T
        return np.concatenate([before, wanted[..., count:] - self._floored(change_db)], axis=-1)

    def gain_db(self, at: FloatArray) -> FloatArray:
        return np.asarray(_GAIN_DB * self._split(at).gain)

    def bench(self, at: FloatArray) -> ExhaustBench:
        return self._bench(self.exhaust(at), at)

    def _bench(self, exhaust: _Exhaust, at: FloatArray) -> ExhaustBench:
        heard, own = self._drives.before, self._split(at)
        span = self._gas_k.high - self._gas_k.low
        first_k = self._gas_k.low + span * ndtr(own.gas)
        second_k = first_k + GAS_APART * span * (2.0 * ndtr(own.second_warmer) - 1.0)
        both_k = np.stack([first_k, second_k.clip(self._gas_k.low, self._gas_k.high)], axis=1)
        first = self._stations.piece[[places[0] for places in self._stations.places]]
        bores_m = self._line.bores_m[self._layout.pieces.section[first]]
        resistance = MOUTH_LOSS[0] + (MOUTH_LOSS[1] - MOUTH_LOSS[0]) * ndtr(own.mouth)
        before_db = heard.on_trend(exhaust.flow_db)
        return ExhaustBench(
            frequency_hz=heard.frequency_hz,
            near=self._drives.near,
            before_db=before_db,
            stations=self._stations,
            places=exhaust.places,
            pipe_bore_m=bores_m,
            mass_per_m=exhaust.mass_per_m,
            # those on a pipe that mirrors another are taken to be as warm as theirs
            branch_k=np.minimum(np.hstack([both_k] * 2), exhaust.pipe_k[:, np.newaxis]),
            swept=ndtr(own.swept),
            mouth_resistance=exhaust.mach * resistance[:, np.newaxis],
            neck_hotter_k=_neck_hotter_k(own),
        )

    def _floored(self, change_db: FloatArray) -> FloatArray:
        """Give what is told of a change, over its deviation."""
        told_db = change_db[..., self._drives.told]
        # power added, not a clip: a deep notch stays deeper than a shallow one
        power = 10.0 ** (0.1 * told_db) + 10.0 ** (0.1 * _FLOOR_DB)
        return np.asarray(10.0 * np.log10(power) / _CHANGE_DB)


def _neck_hotter_k(own: _BranchCoordinates) -> FloatArray:
    if own.neck_hotter is None:
        return np.zeros(own.gas.size)
    return np.asarray(_NECK_HOTTER_K * ndtr(own.neck_hotter))
