"""What a sizing on the whole exhaust rests on, what to look out for, what more room would buy."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.bench.outcome import Outcome
from analysis.branches import Branch, OtherWay
from analysis.exhaust.ensemble import FEWEST, MISSES_DB, Ensemble
from analysis.exhaust.line import ExhaustLine, section_name
from analysis.exhaust.misread import LeftOut, Misread
from analysis.exhaust.mufflers import PACKING_NP_M, UNKNOWN
from analysis.exhaust.prior import GAS_OFF_K, LENGTHS_OFF
from analysis.exhaust.sections import KINDS, MUFFLERS
from analysis.exhaust.stations import names_at
from analysis.findings import Doubt
from analysis.size.advice import (
    DRONE_LEFT,
    HOW_BUILT,
    LEFT_OUT,
    MEASURE_OR_SLIDE,
    NO_CURE,
    beside_the_pipe,
    cases,
    other_way_taken,
    slide,
    typed_lengths,
    whistle,
)
from analysis.size.branch_gas import BranchGas
from analysis.size.parts import credible_db
from analysis.size.plan import SURE_SHARE, Plans
from analysis.size.request import SizingRequest
from analysis.size.search import Room, best, downhill
from analysis.words.lengths import length, rough_length
from analysis.words.places import places_along
from analysis.words.quantities import rpm as in_rpm
from analysis.words.quantities import temperature_both, temperature_step
from analysis.words.sentences import listed

# judgement: all of these. They choose the words and hints beside the answer; no length or place
# moves.
_HARDLY, _LIKELY = 0.5, 0.9  # shares of the credible cases cured
_MORE_ROOM_M = 0.10
_AT_LIMIT = 0.97
_WORTH_SAYING_DB = 0.5
_MUCH_LONGER = (1.5, 2.0)  # times the longest allowed
# judgement: an end of the gas in the branch, as share of the cases, and how many of the failures
# lie there for it to be named; no length moves
_AN_END, _MOST = 1.0 / 3.0, 0.6
# judgement: fewer are within what other guesses would shift; moves no answer, only what is said
_WORTH_MOVING_SHARE = 0.05
_SOME = 2  # every second guess is enough to look for what would be better; all judge it

_TYPES = [name for name in MUFFLERS if name != UNKNOWN]
_TOLD_MUFFLERS = {KINDS["catalyst"].name} | {MUFFLERS[name].name for name in _TYPES}


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """All that a sizing on the whole exhaust had in hand."""

    request: SizingRequest
    line: ExhaustLine
    gas: BranchGas
    room: Room
    plans: Plans
    ensemble: Ensemble
    other_way: OtherWay | None
    misread: Misread | None
    left_out: LeftOut | None
    worse_if_slipped_db: dict[int, float]  # of sections whose length the drive cannot check


def assumptions(work: Work) -> tuple[str, ...]:
    """List what was taken for granted, the weightiest first."""
    ends = [
        name
        for name, k in (("collector", work.line.inlet_k), ("outlet", work.line.outlet_k))
        if k is None
    ]
    said = [*work.gas.assumptions]
    if ends:
        said.append(f"Gas at the {' and the '.join(ends)}: not given; a wide range assumed.")
    said += [
        f"Place and change: worked out on the whole exhaust, {_counted(work.line)} "
        f"from the collector to the outlet. Lengths may be off by {100 * LENGTHS_OFF:.0f} % and "
        f"gas temperatures by {temperature_step(GAS_OFF_K)}. The model is fitted to the level "
        f"before the work and meets it within {work.ensemble.misfit_db:.1f} dB; all that this "
        "leaves open counts.",
        "The engine may reflect sound in any way that fits the curve.",
        *beside_the_pipe(work.other_way),
        *_mufflers(work.line),
        HOW_BUILT,
    ]
    if work.plans.chosen.trials.can is not None:
        said.append(
            "The can has flat ends, and its neck ends flush with the inside of the front one. If "
            "there is no room for a can that wide, say widest_branch under [room] in the car file."
        )
    return tuple(said)


def _counted(line: ExhaustLine) -> str:
    sections = f"{sum(len(pipe.sections) for pipe in line.pipes)} sections"
    return sections if len(line.pipes) == 1 else f"{len(line.pipes)} pipes of {sections} together,"


def _mufflers(line: ExhaustLine) -> Iterator[str]:
    """Say what each kind is taken for."""
    names = {part.kind.name: None for part in line.sections if part.kind.builds}
    told = [name for name in names if name in _TOLD_MUFFLERS]
    if "chamber" in names:
        yield (
            f"Chambers are empty, or loosely packed: up to {PACKING_NP_M[1]:.1f} Np/m of damping."
        )
    if told:
        yield (
            f"{listed(told).capitalize()}: as told in the car file. What cannot be seen inside, "
            "such as the places of plates, the lengths of passes, holes and packing, may be "
            "anything usual that fits the drive."
        )
    if _is_unknown(line):
        yield (
            "The car file does not say what type of muffler this is, so every type counts "
            f"({listed(_TYPES)}) and an empty chamber too, each as far as it fits the drive. Say "
            "the type, and the range gets narrower; the questions on the car (pipenote car) tell "
            "how to know it."
        )


def _is_unknown(line: ExhaustLine) -> bool:
    return any(part.kind is MUFFLERS[UNKNOWN] for part in line.sections)


def warnings(work: Work, branches: tuple[Branch, ...]) -> tuple[Doubt, ...]:
    """List the doubts, each with what to do; what forbids the work comes first."""
    lengths = tuple(typed_lengths(work.line, work.misread, work.worse_if_slipped_db))
    return (
        *work.request.doubts,
        *(doubt for doubt in lengths if not doubt.is_advice),
        *_hidden(work.line, work.left_out),
        *_on_each(branches),
        *_cure(work),
        *_left_out(work),
        *_misses(work.ensemble),
        *(advice for advice in lengths if advice.is_advice),
        *work.gas.warnings,
        *slide(branches, work.request.longest_branch_m),
        *whistle(branches),
    )


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


def _on_each(branches: tuple[Branch, ...]) -> Iterator[Doubt]:
    """Say what each pipe gets, for one left out is heard as before."""
    several = [branch for branch in branches if branch.welds > 1]
    if several:
        names = " and one on ".join(f"the {name} pipe" for name in several[0].legs)
        what = "Build it" if len(branches) == 1 else "Build those"
        yield Doubt(
            code="one_on_each_pipe",
            is_advice=True,
            message=f"{what} twice, one on each pipe: one on {names}, at the same place of "
            "each, with twice the material. On one pipe alone it leaves the drone of the other as "
            "it is.",
        )
    elif len({branch.legs for branch in branches}) > 1:
        yield Doubt(
            code="on_unlike_pipes",
            is_advice=True,
            message="The branches go on two pipes that are unlike, so each has its own place and "
            "length. What is foretold is what both do together; do not build one of them alone.",
        )


def _say_type(line: ExhaustLine) -> str:
    if not _is_unknown(line):
        return ""
    return (
        " Find out first what type of muffler it is: with the type told, this may look otherwise."
    )


def _cure(work: Work) -> Iterator[Doubt]:
    plan, hint, which = work.plans.chosen, _say_type(work.line), _which(work)
    now = cases(plan.cured_share)
    adjusts = plan.adjusted_share >= _LIKELY
    other_way = other_way_taken(
        work.room.bench, work.other_way, may_cut=plan.cured_share >= _HARDLY or adjusts
    )
    if other_way is not None:
        yield other_way
    elif plan.cured_share < _HARDLY and not adjusts:
        yield Doubt(
            code=NO_CURE,
            message=f"Do not cut yet: no branch that fits the room is sure to cure {which}. The "
            f"best does so in {now} ({_why_not(work)}). Find more room along the pipe or for a "
            f"longer branch, or change a muffler or the length of the pipe instead.{hint}",
        )
    elif plan.cured_share < _LIKELY and not adjusts:
        # where one adjustment makes it likely, the plan's own line says both: that is no doubt
        yield Doubt(
            code="cure_uncertain",
            message=f"A cure is not sure: {now} at once ({_why_not(work)} in the "
            f"others), and one adjustment makes it {100.0 * plan.adjusted_share:.0f}. "
            f"{MEASURE_OR_SLIDE}{hint}",
        )


def _hidden(line: ExhaustLine, found: LeftOut | None) -> Iterator[Doubt]:
    """Say which pipe may hide a resonator."""
    if found is not None:
        yield Doubt(
            code=LEFT_OUT,
            message="By this drive, there may be a resonator that the car file leaves out, in "
            f"{section_name(line, found.section)}, about {rough_length(found.from_start_m)} along "
            "it. Before you cut, look along that pipe for any piece that is wider than the rest, "
            "put it into the car file and size anew. Until then both count, each as far as it "
            "fits the drive. If there is none, measure that pipe again, along its bends.",
        )


def _which(work: Work) -> str:
    """Name the drones that were planned for."""
    count = len(work.room.bench.near)
    return {1: "this drone", 2: "both drones"}.get(count, f"all {count} drones")


def _why_not(work: Work) -> str:
    """Say what goes wrong in the middle one of the cases that are not cured."""
    outcome, request = work.plans.chosen.outcome, work.request
    failed = outcome.short_of_cure_db[0] > 0.0
    drones_db = np.median(outcome.drones_db[:, 0, failed], axis=1)
    elsewhere = float(np.median(outcome.elsewhere_db[0][failed]))
    why = []
    for target, drone in zip((request.target, *request.others), drones_db.tolist(), strict=False):
        rpm = target.rpm(target.peak_hz)
        at = "" if rpm is None or drones_db.size == 1 else f" at {in_rpm(rpm)}"
        if drone > CURED_DB:
            why.append(f"the drone{at} changes by only {drone:+.1f} dB")
    if elsewhere > ELSEWHERE_DB:
        why.append(f"another engine speed gets louder by {elsewhere:.1f} dB")
    return f"{listed(why) if why else 'it only just misses'}{_with_gas(work)}"


def _with_gas(work: Work) -> str:
    """Say which gas in the branch most of the failures have in common; nothing where none."""
    gas_k, fails = work.room.bench.branch_k[:, 0], ~work.plans.chosen.outcome.is_cured[0]
    cold_k, hot_k = np.quantile(gas_k, [_AN_END, 1.0 - _AN_END]).tolist()
    ends = (("colder", cold_k, gas_k < cold_k), ("hotter", hot_k, gas_k > hot_k))
    for than, edge_k, end in ends:
        if np.mean(end[fails]) >= _MOST and np.mean(fails[end]) >= _HARDLY:
            return f", most often with gas {than} than {temperature_both(edge_k)} in the branch"
    return ""


def _left_out(work: Work) -> Iterator[Doubt]:
    """Say which drones the plan is not for, because nothing likely cures them with the worst."""
    others = work.request.others[len(work.room.bench.near) - 1 :]
    speeds = [in_rpm(rpm) for each in others if (rpm := each.rpm(each.peak_hz)) is not None]
    if speeds:
        it = "that one" if len(speeds) == 1 else "one of those"
        yield Doubt(
            code=DRONE_LEFT,
            message="No branches that fit the room are likely to cure all drones together, so "
            f"these are for the worst alone, not for the drone at {listed(speeds)}. What they do "
            f"to it is told beside the worst. Size for {it} alone by its number in the list of "
            "drones, or find more room, which may cure all.",
        )


def _misses(ensemble: Ensemble) -> Iterator[Doubt]:
    if ensemble.misfit_db > MISSES_DB:
        yield Doubt(
            code="exhaust_misses_drive",
            message="The exhaust in the car file does not sound like the drive: the curves stay "
            f"{ensemble.misfit_db:.1f} dB apart, so the range foretold is wider by that. Check "
            "lengths, mufflers and temperatures, and whether a resonator was left out.",
        )
    elif ensemble.counting < FEWEST:
        yield Doubt(
            code="few_guesses_fit",
            message=f"Few exhausts like this car file's fit the drive. Only about "
            f"{ensemble.counting:.0f} of those tried do so well, so worse ones count too, and the "
            "range foretold is wider. Check lengths, mufflers and temperatures in the car file.",
        )


def _not_at_once(work: Work) -> Iterator[str]:
    """Say what the adjustment is for, where it is likely to be asked for."""
    plan = work.plans.chosen
    if plan.cured_share < _LIKELY <= plan.adjusted_share:
        yield (
            f"A cure at once comes in {cases(plan.cured_share)}: in the others "
            f"{_why_not(work)}. One adjustment after the drive with it on makes it "
            f"{100.0 * plan.adjusted_share:.0f}."
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
    if chosen.cured_share < _LIKELY:
        yield _much_longer(work, room_m)


def _much_longer(work: Work, room_m: float) -> str:
    for longest_m in (more * room_m for more in _MUCH_LONGER):
        much = best(_some(work, longest_m), work.plans.chosen.way)[0]
        share = float(work.room.bench.outcome(much.trials).cured_share[0])
        if share >= _LIKELY:
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
