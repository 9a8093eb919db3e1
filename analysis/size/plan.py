"""Which tube, one branch or two, plain or with a can: the least work that nearly surely cures.

Cans on necks are tried only where no plain branch that fits surely cures: in short room a can is
tuned as low as a plain branch twice as long.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.branches import Can, Tube
from analysis.exhaust.bench import Trials
from analysis.size.parts import too_wide
from analysis.size.search import SHORTEST_CAN_M, WORTH_A_WELD_DB, Chosen, Room, Way, best
from analysis.size.ties import alike
from analysis.size.wishes import BranchWishes

# judgement: how many more of the credible cases must be cured before another branch or a can is
# worth its welding. They trade parts to weld for cases cured; 20 % more of any moved nothing.
SURE_SHARE = 0.97  # share of the credible cases cured that leaves nothing to ask for
_WORTH_A_SECOND_SHARE = 0.04  # more of the credible cases cured
_SURE_WITHOUT_CAN = 0.75  # share cured by plain tubes from which nobody need weld a can
_WORTH_A_CAN_SHARE = 0.15
# Enough for a bend, so that the can lies along the pipe; judgement: a longer one takes room from
# the can.
_NECK_M = 0.20
# judgement: a neck narrower than the pipe, and a can that widens enough to act as a spring.
_NECK_SHARE = 0.75  # of the pipe's bore
_LEAST_WIDENING = 1.25  # can's bore over the neck's


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan(Chosen):
    """Branches to build in this way, and those that would do as well elsewhere, a row each."""

    way: Way
    as_good: tuple[Trials, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plans:
    """What was chosen, and the best of what else was looked for.

    ``other`` has the other number of branches; ``plain`` has no can where the chosen one has.
    """

    chosen: Plan
    other: Plan | None
    plain: Plan | None = None


def choose_plan(room: Room, wishes: BranchWishes, progress: Callable[[float], None]) -> Plans:
    """Try tubes and numbers of branches from the least work to the most, until one is sure.

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
    plain = _try(room, ways, lambda done: progress(done / steps))
    if not with_cans or plain.chosen.cured_share >= _SURE_WITHOUT_CAN:
        return plain
    canned = _try(room, with_cans, lambda done: progress((len(ways) + done) / steps))
    if canned.chosen.cured_share >= plain.chosen.cured_share + _WORTH_A_CAN_SHARE:
        return replace(canned, plain=plain.chosen)
    return plain


def _try(room: Room, ways: list[Way], progress: Callable[[int], None]) -> Plans:
    plans: list[Plan] = []
    for way in ways:
        first, *others = best(room, way)
        as_good = tuple(other.trials for other in others)
        plans.append(
            Plan(
                trials=first.trials,
                outcome=first.outcome,
                pipes=first.pipes,
                way=way,
                as_good=as_good,
            )
        )
        progress(len(plans))
        if plans[-1].cured_share >= SURE_SHARE:
            break
    singles, pairs = ([p for p in plans if p.count == n] for n in (1, 2))
    single, pair = _best(singles), _best(pairs)
    if single is None or pair is None:
        return Plans(chosen=single or pair or plans[-1], other=None)
    pays = (
        single.score_db - pair.score_db >= WORTH_A_WELD_DB
        or pair.cured_share - single.cured_share >= _WORTH_A_SECOND_SHARE
    )
    if single.cured_share < SURE_SHARE and pays:
        return Plans(chosen=pair, other=single)
    return Plans(chosen=single, other=pair)


def _best(plans: list[Plan]) -> Plan | None:
    """Take the sure one, which is the last tried, or else the best."""
    if not plans or plans[-1].cured_share >= SURE_SHARE:
        return plans[-1] if plans else None
    return alike(plans)[0]


def _ways(room: Room, tubes: tuple[Tube, ...], count: int | None) -> Iterator[Way]:
    """Plain tubes, least work first."""
    seated, widest = _tubes(tubes, room.pipe_bores_m)
    if count != 2:
        yield from (Way(tube, None, 1) for tube in (seated if count is None else seated + widest))
    if count != 1:
        yield from (Way(tube, None, 2) for tube in seated + widest)


def ways_with_cans(room: Room, tubes: tuple[Tube, ...], count: int | None) -> Iterator[Way]:
    """Widest can on offer, on a neck of about three quarters of the pipe's bore.

    A wider neck gives a stronger branch tuned higher: with the room that calls for a can, too high.
    """
    if room.lengths_m[1] < _NECK_M + SHORTEST_CAN_M:
        return
    bore_m = float(room.pipe_bores_m.max())
    seated = [tube for tube in tubes if tube.outer_diameter_m <= bore_m + 1e-6]
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
        sits = [tube for tube in tubes if tube.outer_diameter_m <= bore_m + 1e-6]
        fits = [tube for tube in tubes if tube.inner_diameter_m <= bore_m + 1e-6]
        for found, into in ((sits, seated), (fits, widest)):
            best = max(found, key=lambda tube: tube.inner_diameter_m, default=None)
            if best is not None and best not in seated + widest:
                into.append(best)
    return seated[:2], widest[:1]
