"""Whether the drive fits another exhaust than was typed: a slipped tape, a resonator left out.

Guesses at the exhaust stay within what a tape may be off along bends. Beyond that no guess is near,
and the fit makes up for it with what it can still move: sound that comes another way, a mode of the
cabin, odd gas. So the best fit as typed is laid beside the best one with the length of each long
pipe left open. The pipe behind the last muffler is told within a few centimetres; one in front of a
muffler hardly, since there the engine's unknown echo makes up for any length.

A resonator that the car file takes for a piece of pipe is tried at an open place of the longest
pipe in front of a muffler. One best fit tells little of it, as echo and cabin make up for much; but
guesses with it come clearly nearer the drive on the whole.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.exhaust.ensemble import (
    Ensemble,
    ExhaustModel,
    Guesses,
    MeasuredCurve,
    fit_ensemble,
    guesses_at,
)
from analysis.exhaust.fitting import meet
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.prior import Prior, Slip
from analysis.exhaust.sections import MUFFLERS, Section

# judgement: one standard deviation of a slip. Tapes slip by 0.3 to 1.0 m where a foot or the first
# half metre is miscounted, digits are swapped by as much; no source.
_SLIP_M = 0.45
# judgement: what is left of a slip once the drive has told the length; a tape along bends
_TOLD_M = 0.05
# judgement: how much smaller the sum of squares over their deviations must be with a length left
# open, and as share of what it is as typed: a drive that no guess meets accuses nobody. Cars typed
# right came to 6 at most, tails off by 0.3 to 0.7 m to 12 and more, and to a third. They move no
# length of a car whose curve its file meets.
_GAIN, _GAIN_SHARE = 8.0, 0.3
# judgement: pipes that are asked about, the longest first: none shorter can slip so far
_SHORTEST_M, _MOST = 0.4, 4
# judgement: guesses drawn, and cabins tried with each; those fitted, evenly over the open length,
# and the steps of each fit, and of one fitted on. Fewer are quicker and overlook a length.
_DRAWN, _CABINS = 400, 3
_STRATA, _OF_EACH, _STEPS, _MORE_STEPS = 8, 2, 8, 5
# judgement: how far a length is held off to see whether the drive tells it; how much more the
# squares may be then (as likely as two standard deviations off); and how many fits speak for each.
# They choose what is said; no length moves.
SLIPPED_M = 0.4
_AS_GOOD, _KEPT = 4.0, 3
# judgement: a resonator that was left out: how long, how wide over its pipe, how far from the
# pipe's middle as share of it, one standard deviation; and the shortest pipe that hides one: a can
# in a short one is seen. They move no length of a car whose curve its file meets.
_CAN_M, _CAN_WIDE, _CAN_OFF_MIDDLE, _HIDES_M = 0.27, 1.8, 0.25, 0.8
# judgement: guesses fitted with it; which of them, by their sums of squares, are laid beside those
# as typed, and how much smaller that one must be. Cars typed right came to 3.2 at most, cars that
# told of one to 13 and 30.
_CAN_FITTED, _CAN_QUANTILE, _CAN_GAIN = 48, 0.1, 3.5
# judgement: what the nearer guesses as typed leave of the level, up to which nobody looks for one:
# most cars typed right stay below, none of six that told of one did.
_NEAR_DB = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Misread:
    """A section, by its number in the line, whose length the drive tells otherwise.

    ``length_m`` is the one that fits; ``gain`` how much smaller the sum of squares gets with it.
    """

    section: int
    length_m: float
    gain: float

    def slip(self, line: ExhaustLine) -> Slip:
        """Say how far the guesses near this length are from the typed one."""
        by_m = self.length_m - float(line.lengths_m[self.section])
        return Slip(section=self.section, by_m=by_m, spread_m=_TOLD_M)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A section, by its number in the line as typed, that seems to hide a resonator.

    ``line`` is the exhaust with it, and ``guessed`` the guesses at that; ``from_start_m`` is where
    its middle likely is, from the start of the section.
    """

    section: int
    from_start_m: float
    line: ExhaustLine
    guessed: Ensemble


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthCheck:
    """What a drive says of the lengths that were typed.

    Attributes
    ----------
    misread : the one that it tells otherwise; None of none
    as_typed : guesses that fit best as typed
    untold : of each section, by its number, whose length the drive cannot check: guesses that fit
        as well though it is `SLIPPED_M` longer, or shorter
    """

    misread: Misread | None
    as_typed: Guesses
    untold: dict[int, Guesses]


def check_lengths(
    line: ExhaustLine,
    engine_order: float | None,
    heard: MeasuredCurve,
    rng: np.random.Generator,
) -> LengthCheck:
    """Lay the best fit as typed beside those with one length left open, and with it slipped."""
    typed = Prior(line=line, engine_order=engine_order)
    as_typed = _fitted(typed, heard, rng)
    as_good = as_typed.least + _AS_GOOD
    slips = tuple(Slip(section=n, by_m=0.0, spread_m=_SLIP_M) for n in _may_slip(typed))
    prior = replace(typed, slips=slips)
    # all of them together: a dozen guesses cost hardly more than one
    opened = _fitted(prior, heard, rng).parts(len(slips)) if slips else []
    held = _slipped(prior, heard, opened) if slips else []
    found: list[Misread] = []
    untold: dict[int, Guesses] = {}
    for slip, fits, slipped in zip(slips, opened, held, strict=True):
        # its own stretch is in it: what fits is what the tape should have said
        stretch = prior.members(fits.at[fits.order[:1], : prior.size]).stretch[0, slip.section]
        length_m = float(stretch) * float(line.lengths_m[slip.section])
        gain = as_typed.least - fits.least
        found.append(Misread(section=slip.section, length_m=length_m, gain=gain))
        if slipped.least <= as_good:
            untold[slip.section] = _guesses(prior, slipped, as_good)
    best = max(found, key=lambda each: each.gain, default=None)
    misread = None
    if best is not None and _is_clear(best.gain, as_typed.least):
        # a fit as typed that ended in a hollow of its own would accuse a tape: it gets another try
        again = min(as_typed.least, _fitted(typed, heard, rng).least)
        best = replace(best, gain=best.gain - (as_typed.least - again))
        misread = best if _is_clear(best.gain, again) else None
    return LengthCheck(misread=misread, as_typed=_guesses(typed, as_typed, as_good), untold=untold)


def left_out(
    line: ExhaustLine,
    engine_order: float | None,
    heard: MeasuredCurve,
    as_typed: Ensemble,
    rng: np.random.Generator,
) -> LeftOut | None:
    """Find the resonator that the drive tells of; None where guesses as typed are near it."""
    number = _may_hide(line)
    near_db2 = np.quantile(as_typed.left_db2, _CAN_QUANTILE)
    if number is None or near_db2 < _NEAR_DB**2:
        return None
    holding = _with_resonator(line, number)
    half_m = float(holding.lengths_m[number])
    spread_m = _CAN_OFF_MIDDLE * float(line.lengths_m[number])
    slip = Slip(section=number, by_m=0.0, spread_m=spread_m, onto=number + 2)
    guessed = fit_ensemble(
        holding, engine_order, heard, rng, lambda _: None, slip, count=_CAN_FITTED
    )
    typed, with_it = (np.quantile(e.misfit, _CAN_QUANTILE) for e in (as_typed, guessed))
    if typed - with_it < _CAN_GAIN:
        return None
    middle_m = guessed.guesses.members.stretch[:, number] * half_m + _CAN_M / 2.0
    return LeftOut(
        section=number,
        from_start_m=float(np.sum(guessed.weight * middle_m)),
        line=holding,
        guessed=guessed,
    )


def _may_hide(line: ExhaustLine) -> int | None:
    """Find the longest pipe with a muffler behind it on its leg; None of none long enough."""
    long = [
        first + rank
        for first, pipe in zip(line.firsts.tolist(), line.pipes, strict=False)
        for rank, part in enumerate(pipe.sections)
        if part.kind.takes_branch
        and part.length_m >= _HIDES_M
        and not all(behind.kind.takes_branch for behind in pipe.sections[rank:])
    ]
    return max(long, key=lambda number: line.lengths_m[number], default=None)


def _with_resonator(line: ExhaustLine, number: int) -> ExhaustLine:
    """Put a resonator into the middle of a section, and of the one that mirrors it."""
    pipe = int(np.searchsorted(line.firsts, number, side="right")) - 1
    rank = number - int(line.firsts[pipe])
    pipes = list(line.pipes)
    for index, each in enumerate(line.pipes):
        if pipe in (index, each.twin):
            whole = each.sections[rank]
            half = replace(whole, length_m=(whole.length_m - _CAN_M) / 2.0)
            can = Section(
                kind=MUFFLERS["resonator"],
                length_m=_CAN_M,
                inner_diameter_m=_CAN_WIDE * whole.inner_diameter_m,
            )
            sections = (*each.sections[:rank], half, can, half, *each.sections[rank + 1 :])
            pipes[index] = replace(each, sections=sections)
    return replace(line, pipes=tuple(pipes))


def _is_clear(gain: float, as_typed: float) -> bool:
    return gain >= max(_GAIN, _GAIN_SHARE * as_typed)


def _may_slip(prior: Prior) -> list[int]:
    line = prior.line
    long = [
        number
        for number in prior.measured
        if number < line.firsts[-1]
        and line.sections[number].kind.takes_branch
        and line.lengths_m[number] >= _SHORTEST_M
    ]
    return sorted(long, key=lambda number: -line.lengths_m[number])[:_MOST]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fits:
    """Coordinates [shape=(n_fits, n_coordinates)] and what they cost: squares, straying with it."""

    at: FloatArray
    cost: FloatArray

    @property
    def order(self) -> IntArray:
        return np.argsort(self.cost)

    @property
    def least(self) -> float:
        return float(self.cost.min())

    def parts(self, ends: int | list[int]) -> list[_Fits]:
        """Split them, as numpy splits arrays."""
        both = zip(np.split(self.at, ends), np.split(self.cost, ends), strict=True)
        return [_Fits(at=at, cost=cost) for at, cost in both]


def _fitted(prior: Prior, heard: MeasuredCurve, rng: np.random.Generator) -> _Fits:
    """Fit a few guesses to the curve, straying from the middle of all ranges counted.

    As many for each of the slips, in their order.
    """
    alone = [replace(prior, slips=(slip,)) for slip in prior.slips] or [prior]
    few = heard.in_pairs()
    starts = [_to_start_from(ExhaustModel(each, few), each, rng) for each in alone]
    if len(alone) > 1:
        starts = [np.insert(at, prior.size - 2, n, axis=1) for n, at in enumerate(starts)]
    return _met(prior, heard, np.concatenate(starts), _STEPS)


def _slipped(prior: Prior, heard: MeasuredCurve, opened: list[_Fits]) -> list[_Fits]:
    """Fit the best ones on, with the open length held where a tape would have slipped to."""
    held, every = prior.size - 1, []
    for slip, fits in zip(prior.slips, opened, strict=True):
        typed_m = float(prior.line.lengths_m[slip.section])
        ways_m = [by_m for by_m in (-SLIPPED_M, SLIPPED_M) if typed_m + by_m >= _SHORTEST_M / 2.0]
        best = fits.at[fits.order[:_KEPT]]
        walked = np.concatenate([best] * len(ways_m))
        walked[:, held] = np.repeat(ways_m, len(best)) / _SLIP_M
        every.append(walked)
    met = _met(prior, heard, np.concatenate(every), _MORE_STEPS, held)
    return met.parts(np.cumsum([len(walked) for walked in every[:-1]]).tolist())


def _met(
    prior: Prior, heard: MeasuredCurve, walked: FloatArray, steps: int, held: int | None = None
) -> _Fits:
    """Fit on; the coordinate with the number ``held`` stays as it is walked."""
    model, whole = ExhaustModel(prior, heard.in_pairs()), ExhaustModel(prior, heard)
    free = model.free if held is None else model.free[model.free != held]
    start = walked.copy()
    start[:, free] = 0.0
    wanted = np.repeat(model.heard[None], walked.shape[0], axis=0)
    at = meet(model.residual, start, wanted, steps, free, lambda _: None, walked)
    left = whole.residual(at, whole.heard)
    return _Fits(at=at, cost=np.sum(left**2, axis=1) + np.sum((at - start) ** 2, axis=1))


def _guesses(prior: Prior, fits: _Fits, most: float) -> Guesses:
    """Take the best fits, none that costs more."""
    best = fits.order[:_KEPT]
    return guesses_at(prior, fits.at[best[fits.cost[best] <= most]])


def _to_start_from(model: ExhaustModel, prior: Prior, rng: np.random.Generator) -> FloatArray:
    """Draw guesses; keep the nearest, as many of each stretch of the open length."""
    exhaust = rng.standard_normal((_DRAWN, prior.size))
    nearest = np.full(_DRAWN, np.inf)
    best = np.zeros((_DRAWN, model.size))
    for _ in range(_CABINS):
        rest = rng.standard_normal((_DRAWN, model.size - prior.size))
        at = model.met_by_tail(np.hstack([exhaust, rest]))
        misfit = np.sum(model.residual(at, model.heard) ** 2, axis=1)
        nearer = misfit < nearest
        nearest[nearer], best[nearer] = misfit[nearer], at[nearer]
    return best[_of_each_stratum(exhaust[:, -1], nearest)]


def _of_each_stratum(coordinate: FloatArray, misfit: FloatArray) -> IntArray:
    """Numbers of the nearest in each stretch of a coordinate, as many in each."""
    strata = np.array_split(np.argsort(coordinate), _STRATA)
    return np.concatenate([each[np.argsort(misfit[each])[:_OF_EACH]] for each in strata])
