"""Which tube, one branch or two, plain or with a can: the fewest welds that nearly surely cure.

A weld can be added after the next drive and not taken off, so one branch is recommended wherever it
cures nine in ten of the credible cases at once, or nearly all after one adjustment: a cap moved, or
a second branch at a place that was kept for it (:mod:`analysis.size.adjusting`).

Cans on necks are tried only where no plain branch that fits surely cures: in short room a can is
tuned as low as a plain branch twice as long.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from analysis.acoustics.end_correction import SAME_BORE_M
from analysis.basics.arrays import FloatArray
from analysis.basics.cure import CURED_DB
from analysis.bench.exhaust_bench import Trials
from analysis.branches import Can, Tube
from analysis.size.adjusting import Kept, cured_after_trim, kept_place
from analysis.size.parts import too_wide
from analysis.size.search import (
    SHORTEST_CAN_M,
    WORTH_A_WELD_DB,
    Chosen,
    Room,
    Way,
    best,
    likeliest_single,
)
from analysis.size.ties import alike
from analysis.size.wishes import BranchWishes

# judgement: how many more of the credible cases must be cured before another branch or a can is
# worth its welding. They trade parts to weld for cases cured; 20 % more of any moved nothing.
SURE_SHARE = 0.97  # share of the credible cases cured that leaves nothing to ask for
_WORTH_A_SECOND_SHARE = 0.04  # more of the credible cases cured
_SURE_WITHOUT_CAN = 0.75  # share cured by plain tubes from which nobody need weld a can
_WORTH_A_CAN_SHARE = 0.15
# judgement: shares cured from which fewer welds do. At once, or after one adjustment, which asks
# for a cure at once more likely than not. They trade welds for a second day of work; what comes of
# it on cars of another physics is measured by tests/benchmarks/worlds.
ENOUGH_NOW, ENOUGH_ADJUSTED, EVEN = 0.90, 0.97, 0.50
_WORTH_KEEPING_SHARE = 0.01  # more of the credible cases cured; judgement: a place costs little
# Enough for a bend, so that the can lies along the pipe; judgement: a longer one takes room from
# the can.
_NECK_M = 0.20
# judgement: a neck narrower than the pipe, and a can that widens enough to act as a spring.
_NECK_SHARE = 0.75  # of the pipe's bore
_LEAST_WIDENING = 1.25  # can's bore over the neck's


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan(Chosen):
    """Branches to build in this way, and those that would do as well elsewhere, a row each.

    ``adjusted_share`` of the credible cases are cured at once or after one adjustment: caps moved,
    or a second branch at the place ``kept`` for it. ``curable_share`` is what a silent tail pipe
    would cure: no plan can cure more, so no weld is added for the rest.
    """

    way: Way
    as_good: tuple[Trials, ...] = ()
    adjusted_share: float = 0.0
    kept: Kept | None = None
    curable_share: float = 1.0

    @property
    def is_enough(self) -> bool:
        """Whether nobody need weld more at once."""
        now, adjusted = self.cured_share, self.adjusted_share
        adjusts = now >= EVEN and adjusted >= ENOUGH_ADJUSTED * self.curable_share
        return (now >= ENOUGH_NOW * self.curable_share and now >= EVEN) or adjusts

    @property
    def is_hopeless(self) -> bool:
        """Whether most of the drone's cases come another way, so that nobody is told to build."""
        return self.curable_share < EVEN


@dataclass(frozen=True, slots=True, kw_only=True)
class Plans:
    """What was chosen, and all that was weighed, the chosen one among it, fewest welds first.

    ``plain`` has no can where the chosen one has.
    """

    chosen: Plan
    weighed: tuple[Plan, ...]
    plain: Plan | None = None


def choose_plan(room: Room, wishes: BranchWishes, progress: Callable[[float], None]) -> Plans:
    """Try tubes and numbers of branches from the least work to the most, and weigh the best.

    Raises
    ------
    SizingError
        Every tube is wider than the pipe.
    """
    tubes, count = wishes.tubes, wishes.branch_count
    ways = list(_ways(room, tubes, count))
    if not ways:
        raise too_wide(float(room.pipe_bores_m.max()))
    with_cans = list(ways_with_cans(room, tubes, count)) if wishes.cans else []
    steps = len(ways) + len(with_cans)
    plain = _try(room, ways, count, lambda done: progress(done / steps))
    if not with_cans or not _cans_may_pay(plain):
        return plain
    canned = _try(room, with_cans, count, lambda done: progress((len(ways) + done) / steps))
    return replace(canned, plain=plain.chosen) if _cans_pay(canned.chosen, plain) else plain


def _cans_may_pay(plain: Plans) -> bool:
    """Whether plain tubes leave enough uncured that some branch could cure."""
    if plain.chosen.is_enough or plain.chosen.cured_share >= _SURE_WITHOUT_CAN:
        return False
    at_once = max(plan.cured_share for plan in plain.weighed)
    return at_once + _WORTH_A_CAN_SHARE <= plain.chosen.curable_share


def _cans_pay(canned: Plan, plain: Plans) -> bool:
    """Whether cans cure clearly more at once than any plain plan, and in the end too."""
    at_once = max(plan.cured_share for plan in plain.weighed)
    adjusted = max(plan.adjusted_share for plan in plain.weighed)
    if canned.cured_share < at_once + _WORTH_A_CAN_SHARE:
        return False
    return canned.is_enough or canned.adjusted_share >= adjusted + _WORTH_A_SECOND_SHARE


def _try(room: Room, ways: list[Way], count: int | None, progress: Callable[[int], None]) -> Plans:
    """Weigh the best single branch, with a place kept and without, and the best pair.

    Of a ``count`` that was asked for only those stay; a pair hangs on whether one would do.
    """
    weighed: list[Plan] = []
    done = itertools.count(1)
    for number in (1, 2):
        of_number = [way for way in ways if way.branches == number]
        if any(plan.is_enough or plan.is_hopeless for plan in weighed):
            of_number = of_number[:1]  # only to be laid beside it
        plan = _best_of(room, of_number, lambda: progress(next(done)))
        if plan is not None:
            weighed += _adjusted(room.kept_to(plan.way), plan)
            if number == 1 and not any(each.is_enough or each.is_hopeless for each in weighed):
                weighed = _likelier(room, plan) or weighed
    asked = [plan for plan in weighed if count in (None, plan.count)]
    return Plans(chosen=_recommended(asked), weighed=tuple(asked))


def _best_of(room: Room, ways: list[Way], tried: Callable[[], None]) -> Plan | None:
    """Take the first sure one of these, or else the best."""
    plans: list[Plan] = []
    for way in ways:
        first, *others = best(room, way)
        tried()
        plan = Plan(
            trials=first.trials,
            outcome=first.outcome,
            pipes=first.pipes,
            way=way,
            as_good=tuple(other.trials for other in others),
        )
        if plan.cured_share >= SURE_SHARE:
            return plan
        plans.append(plan)
    return alike(plans)[0] if plans else None


def _likelier(room: Room, plan: Plan) -> list[Plan]:
    """Weigh the single branch that is likeliest to cure; nothing where that is not enough.

    The one with the best worst case may leave many cases just short. A second branch can still be
    added in the worst, so the odds at once count more.
    """
    one = likeliest_single(room, plan.way)
    likelier = replace(plan, trials=one.trials, outcome=one.outcome, pipes=one.pipes, as_good=())
    tried = list(_adjusted(room.kept_to(plan.way), likelier))
    return tried if any(each.is_enough for each in tried) else []


def _adjusted(room: Room, plan: Plan) -> Iterator[Plan]:
    """Say what one adjustment would cure: of one branch also with a place kept for a second."""
    trimmed = cured_after_trim(room, plan)
    curable = float(np.mean(room.bench.silenced().drone_db[0] <= CURED_DB))
    plan = replace(plan, curable_share=curable)
    yield replace(plan, adjusted_share=float(trimmed.mean()))
    if plan.count > 1 or plan.cured_share >= SURE_SHARE:
        return
    kept = kept_place(room, plan, trimmed)
    if kept is not None and kept.is_cured.mean() >= trimmed.mean() + _WORTH_KEEPING_SHARE:
        yield replace(plan, adjusted_share=float(kept.is_cured.mean()), kept=kept)


def _recommended(weighed: list[Plan]) -> Plan:
    """Take the fewest welds that are enough; where none are, more welds only if they pay."""
    enough = [plan for plan in weighed if plan.is_enough] or weighed
    fewest = min(plan.welds for plan in enough)
    # the last of those with as many welds has the place kept
    chosen = [plan for plan in enough if plan.welds == fewest][-1]
    if chosen.is_enough:
        return chosen
    more = max(weighed, key=lambda plan: plan.welds)
    pays = (
        chosen.score_db - more.score_db >= WORTH_A_WELD_DB
        or more.cured_share - chosen.cured_share >= _WORTH_A_SECOND_SHARE
        or more.adjusted_share - chosen.adjusted_share >= _WORTH_A_SECOND_SHARE
    )
    return more if pays else chosen


def _ways(room: Room, tubes: tuple[Tube, ...], count: int | None) -> Iterator[Way]:
    """Plain tubes, least work first.

    One branch is tried in the same tubes whether two are asked about or not, and before two in any
    case: or one and the same plan would say two things.
    """
    seated, widest = _tubes(tubes, room.pipe_bores_m)
    # nearly as wide as the pipe a single one cures only a few more in 100, and is hard to weld
    yield from (Way(tube, None, 1) for tube in seated or widest)
    if count != 1:
        yield from (Way(tube, None, 2) for tube in seated + widest)


def ways_with_cans(room: Room, tubes: tuple[Tube, ...], count: int | None) -> Iterator[Way]:
    """Widest can on offer, on a neck of about three quarters of the pipe's bore.

    A wider neck gives a stronger branch tuned higher: with the room that calls for a can, too high.
    """
    if room.lengths_m[1] < _NECK_M + SHORTEST_CAN_M:
        return
    bore_m = float(room.pipe_bores_m.max())
    seated = [tube for tube in tubes if tube.is_within(bore_m)]
    if not seated:
        return
    wide = max(tubes, key=lambda tube: tube.inner_diameter_m)
    neck = min(seated, key=lambda tube: abs(tube.inner_diameter_m - _NECK_SHARE * bore_m))
    if wide.inner_diameter_m < _LEAST_WIDENING * neck.inner_diameter_m:
        return
    can = Can(tube=wide, neck_m=_NECK_M)
    for branches in (1, 2) if count is None else (count,):
        yield Way(neck, can, branches)


def _tubes(tubes: tuple[Tube, ...], bores_m: FloatArray) -> tuple[list[Tube], list[Tube]]:
    """For each bore the widest tube that sits on the pipe's crown, and the widest that fits.

    A wider branch covers a wider band; one as wide as the pipe is harder to fit and weld.
    """
    seated: list[Tube] = []
    widest: list[Tube] = []
    for bore_m in np.unique(bores_m)[::-1]:
        sits = [tube for tube in tubes if tube.is_within(bore_m)]
        fits = [tube for tube in tubes if tube.inner_diameter_m <= bore_m + SAME_BORE_M]
        for found, into in ((sits, seated), (fits, widest)):
            best = max(found, key=lambda tube: tube.inner_diameter_m, default=None)
            if best is not None and best not in seated + widest:
                into.append(best)
    return seated[:2], widest[:1]
