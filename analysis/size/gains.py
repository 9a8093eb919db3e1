"""What more would buy on the whole exhaust: one adjustment, a can, more length, other places."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from analysis.bench.outcome import Outcome
from analysis.branches import Branch
from analysis.exhaust.stations import names_at
from analysis.size.advice import cases
from analysis.size.exhaust_advice import DOUBTED, LIKELY, Work, adjusting, why_not
from analysis.size.parts import credible_db
from analysis.size.plan import SURE_SHARE, Plans
from analysis.size.search import Room, best, downhill
from analysis.words.lengths import length, rough_length
from analysis.words.places import places_along
from analysis.words.sentences import listed

# judgement: all of these. They choose the hints beside the answer; no length or place moves.
_MORE_ROOM_M = 0.10
_AT_LIMIT = 0.97
_WORTH_SAYING_DB = 0.5
_MUCH_LONGER = (1.5, 2.0)  # times the longest allowed
# judgement: fewer are within what other guesses would shift; moves no answer, only what is said
_WORTH_MOVING_SHARE = 0.05
_SOME = 2  # every second guess is enough to look for what would be better; all judge it


def gains(work: Work) -> tuple[str, ...]:
    """Say what one adjustment, a can, more length or more room along the pipe would buy."""
    return (
        *_not_at_once(work),
        *_without_can(work.plans),
        *_longer(work),
        *_elsewhere(work),
    )


def other_places(as_good: Sequence[tuple[Branch, ...]]) -> Iterator[str]:
    """Say which other places would do as well: one may be where the room is."""
    for branches in as_good:
        cut = listed([length(branch.length_m) for branch in branches])
        where = places_along([(rough_length(b.position_m or 0.0), b.legs) for b in branches])
        yield f"As good: {cut} long at {where}. Build where you have the room."


def _not_at_once(work: Work) -> Iterator[str]:
    """Say what the adjustment is for, where it is likely to be asked for."""
    plan = work.plans.chosen
    if plan.cured_share < LIKELY and plan.adjusted_share >= DOUBTED:
        yield (
            f"A cure at once comes in {cases(plan.cured_share)}: in the others "
            f"{why_not(work)}. After the drive with it on, {adjusting(work.plans)}."
        )


def _without_can(plans: Plans) -> Iterator[str]:
    if plans.plain is not None:
        yield (
            f"The can is there because plain tube that fits the room would cure "
            f"{cases(plans.plain.cured_share)}; with the can it is "
            f"{100.0 * plans.chosen.cured_share:.0f}."
        )


def _longer(work: Work) -> Iterator[str]:
    """Say what longer branches would give, where the longest allowed is used up."""
    room_m, chosen = work.request.longest_branch_m, work.plans.chosen
    if room_m is None or chosen.trials.length_m.max() < _AT_LIMIT * room_m:
        return
    longer = rough_length(room_m + _MORE_ROOM_M)
    (better,) = downhill(_some(work, room_m + _MORE_ROOM_M).kept_to(chosen.way), chosen.trials)
    # judged by all guesses: those that it was searched on would flatter it
    gain = _worst_db(chosen.outcome) - _worst_db(work.room.bench.outcome(better.trials))
    if gain >= _WORTH_SAYING_DB:
        yield (
            f"Each further centimetre of branch, up to {longer}, would take about "
            f"{gain / (100 * _MORE_ROOM_M):.1f} dB more off the drone at worst."
        )
    else:
        yield (
            f"Branches of {longer} instead of {rough_length(room_m)} would gain next to nothing: "
            f"{max(gain, 0.0):.1f} dB at worst."
        )
    if chosen.cured_share < LIKELY:
        yield _much_longer(work, room_m)


def _much_longer(work: Work, room_m: float) -> str:
    for longest_m in (more * room_m for more in _MUCH_LONGER):
        much = best(_some(work, longest_m), work.plans.chosen.way)[0]
        share = float(work.room.bench.outcome(much.trials).cured_share[0])
        if share >= LIKELY:
            return (
                f"With room for branches of {rough_length(longest_m)}, {cases(share)} would be "
                "cured."
            )
    return (
        f"Even branches of {rough_length(_MUCH_LONGER[-1] * room_m)} would not surely cure it at "
        "these places."
    )


def _elsewhere(work: Work) -> Iterator[str]:
    """Say what closed stretches of pipe would give, where the open ones do not surely cure."""
    chosen, bench = work.plans.chosen, work.room.bench
    if chosen.cured_share >= SURE_SHARE or work.room.allowed.size == bench.position_m.size:
        return
    anywhere = replace(_some(work), allowed=np.arange(bench.position_m.size))
    better = best(anywhere, chosen.way)[0]
    share = float(bench.outcome(better.trials).cured_share[0])
    if share > chosen.cured_share + _WORTH_MOVING_SHARE:
        stations = better.trials.place[0]
        names = (names_at(work.line, int(pipe)) for pipe in bench.stations.pipe[stations])
        at = map(rough_length, bench.position_m[stations].tolist())
        where = places_along(list(zip(at, names, strict=True)))
        yield (
            f"With room at {where}, {cases(share)} would be cured instead of "
            f"{100.0 * chosen.cured_share:.0f}."
        )


def _some(work: Work, longest_m: float | None = None) -> Room:
    """Thin out the guesses; let branches be this long."""
    room, shortest_m = work.room, work.room.lengths_m[0]
    return replace(
        room,
        bench=room.bench.thinned(slice(None, None, _SOME), slice(None)),
        lengths_m=(shortest_m, longest_m or room.lengths_m[1]),
    )


def _worst_db(outcome: Outcome) -> float:
    """Change of the drone in the worst credible case, as it is foretold."""
    return credible_db(outcome.drone_db).high
