"""What a sizing on the whole exhaust rests on, and what to look out for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.branches import Branch, OtherWay
from analysis.exhaust.ensemble import FEWEST, MISSES_DB, Ensemble
from analysis.exhaust.line import ExhaustLine, section_name
from analysis.exhaust.misread import LeftOut, Misread
from analysis.exhaust.mufflers import PACKING_NP_M, UNKNOWN
from analysis.exhaust.prior import GAS_OFF_K, LENGTHS_OFF
from analysis.exhaust.sections import KINDS, MUFFLERS
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
from analysis.size.plan import Plans
from analysis.size.request import SizingRequest
from analysis.size.search import Room
from analysis.words.lengths import rough_length
from analysis.words.quantities import rpm as in_rpm
from analysis.words.quantities import temperature_both, temperature_step
from analysis.words.sentences import listed

# judgement: all of these. They choose the words and hints beside the answer; no length or place
# moves.
_HARDLY, LIKELY = 0.5, 0.9  # shares of the credible cases cured
# judgement: share cured after one adjustment from which the odds beside the plan say enough: of ten
# made-up cars between this and 0.9 nine were cured. No length moves.
DOUBTED = 0.75
# judgement: an end of the gas in the branch, as share of the cases, and how many of the failures
# lie there for it to be named; no length moves
_AN_END, _MOST = 1.0 / 3.0, 0.6

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
        *_misses(work),
        *(advice for advice in lengths if advice.is_advice),
        *work.gas.warnings,
        *slide(branches, work.request.longest_branch_m),
        *whistle(branches),
    )


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
    adjusts = plan.adjusted_share >= LIKELY
    other_way = other_way_taken(
        work.room.bench, work.other_way, may_cut=plan.cured_share >= _HARDLY or adjusts
    )
    if other_way is not None:
        yield other_way
    elif plan.cured_share < _HARDLY and not adjusts:
        yield Doubt(
            code=NO_CURE,
            message=f"Do not cut yet: no branch that fits the room is sure to cure {which}. The "
            f"best does so in {now} ({why_not(work)}). Find more room along the pipe or for a "
            f"longer branch, or change a muffler or the length of the pipe instead.{hint}",
        )
    elif plan.cured_share < LIKELY and plan.adjusted_share < DOUBTED:
        # where one adjustment makes it likely, the odds beside the plan say both: that is no doubt
        yield Doubt(
            code="cure_uncertain",
            message=f"A cure is not sure: {now} at once ({why_not(work)} in the "
            f"others), and {adjusting(work.plans)}. "
            f"{MEASURE_OR_SLIDE}{hint}",
        )


def adjusting(plans: Plans) -> str:
    """Say what one adjustment makes of the cases cured: the cap moved, or a second branch added."""
    chosen = plans.chosen
    in_the_end = f"{100.0 * chosen.adjusted_share:.0f}"
    same = (each for each in plans.weighed if each.trials is chosen.trials and each.kept is None)
    alone = None if chosen.kept is None else next(same, None)
    if alone is None:
        return f"one adjustment makes it {in_the_end}"
    moved = f"moving the cap makes it {100.0 * alone.adjusted_share:.0f}"
    return f"{moved}, a second branch at the place kept for it {in_the_end}"


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


def why_not(work: Work) -> str:
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


def _misses(work: Work) -> Iterator[Doubt]:
    ensemble = work.ensemble
    if ensemble.misfit_db > MISSES_DB:
        yield Doubt(
            code="exhaust_misses_drive",
            message="The exhaust in the car file does not sound like the drive: the curves stay "
            f"{ensemble.misfit_db:.1f} dB apart, so the range foretold is wider by that. Check "
            "lengths, mufflers and temperatures, and whether a resonator was left out.",
        )
    elif ensemble.counting < FEWEST and work.plans.chosen.cured_share < LIKELY:
        # where worse ones are cured as well, it matters little that they count
        yield Doubt(
            code="few_guesses_fit",
            message=f"Few exhausts like this car file's fit the drive. Only about "
            f"{ensemble.counting:.0f} of those tried do so well, so worse ones count too, and the "
            "range foretold is wider. Check lengths, mufflers and temperatures in the car file.",
        )
