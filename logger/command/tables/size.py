"""What was sized, as text for a terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterable, Iterator

from rich.console import Group, RenderableType
from rich.padding import Padding

from analysis.branches import Branch, Can, Sizing
from analysis.build.workshop.card import SHAPE, card_rows, how_many, plan_of, plans_of
from analysis.build.workshop.fit_words import is_assumed, needed
from analysis.build.workshop.plan import AS_USUAL, BranchPlan, BuildWishes
from analysis.size.advice import DO_NOT_CUT, label_of, no_room
from analysis.words.foretold import best_found, foretold_rows
from analysis.words.lengths import both, diameter, length
from analysis.words.places import measured_from, one_on_each
from analysis.words.plans import ADJUSTED, PLANS_HEAD, kept_words, plan_row, plan_words
from analysis.words.quantities import rpm as in_rpm
from analysis.words.quantities import temperature_both
from analysis.words.sentences import first_clause, listed, sentence
from analysis.words.shown import either
from logger.command.tables.layout import Fitting, decibel, doubt_rows, labelled, plain
from logger.screen.terminal import Row, headed

_RUNS = (
    "runs along the branch's middle, from the main pipe's inner wall to the inside of a fixed cap, "
    "or to the open end that a sliding one goes over"
)
_MEASURED = {"Weld it at": "places", "The tube's end": "ends", "The can's end": "ends"}
_PLACE_FIRST = "cut nothing yet: the place decides; describe the car, pipenote car"


def short_text(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> RenderableType:
    """Say what is needed at the car, in at most 15 lines; :func:`size_text` has all."""
    misfit = no_room(sizing)
    doubts = [doubt for doubt in sizing.doubts if doubt is not misfit]
    # of several drones each is named with what becomes of it
    rows: list[Row] = [] if sizing.others else [_drone(sizing)]
    if sizing.by_thumb is not None:
        rows.append(("First", _PLACE_FIRST))
    if misfit is not None:
        rows.append((label_of(misfit), misfit.message))
    if misfit is None or misfit.code not in DO_NOT_CUT:
        rows += [(label, "; ".join(measures)) for label, measures in _cards(sizing, wishes)]
        rows += [*_plan(sizing), *_room(sizing, wishes), *_after(sizing)]
    else:
        rows.append(("At best", best_found(sizing)))
    if doubts:
        more = f" (and {len(doubts) - 1} more)" if len(doubts) > 1 else ""
        rows.append(("Look out", f"{first_clause(doubts[0].message)}{more}"))
    rows.append(("More", "--full tells all; the report has the cautions: read them first"))
    return labelled(rows)


def _after(sizing: Sizing) -> Iterator[Row]:
    """Say what becomes of each drone; of several with its pitch."""
    if not sizing.others:
        yield from foretold_rows(sizing)
        return
    meant = (True, *(other.is_planned_for for other in sizing.others))
    told = zip(sizing.targets, meant, foretold_rows(sizing), strict=True)
    for target, is_meant, (at, words) in told:
        brief = words.replace("about ", "")
        # --full has the range of one that they are not meant for
        yield at, f"{target.peak_hz:.1f} Hz: {brief if is_meant else brief.partition(' (')[0]}"


def _plan(sizing: Sizing) -> Iterator[Row]:
    """Say the recommended plan, and which place to keep."""
    told = plan_words(sizing.plans)
    if told is None:
        return
    keep, kept = "", sizing.kept
    if kept is not None:
        place = length(kept.position_m or 0.0)
        if kept.legs != sizing.branches[0].legs:
            place = f"{place} {measured_from(kept.legs)}"
        keep = f" Keep the place at {place} free for it, about {length(kept.length_m)} long."
    yield "Plan", f"{sentence(told)}{keep}"


def _room(sizing: Sizing, wishes: BuildWishes) -> Iterator[Row]:
    """Say what room branches need at their place, where nobody said what there is."""
    build = None if sizing.by_thumb is not None else plan_of(sizing, wishes)
    if build is not None and is_assumed(build):
        yield "Room", f"look for {needed(build)}"


def _cards(sizing: Sizing, wishes: BuildWishes) -> Iterator[tuple[str, list[str]]]:
    """Each branch, and its measures as on the card of the report; those alike in one line."""
    rows = list(card_rows(sizing, wishes))
    if sizing.by_thumb is not None:
        # how it is bent hangs on the room at its place, and that is to be found first
        rows = [row for row in rows if row[0] != SHAPE]
    several = len(sizing.branches) > 1
    alike = [row for row in rows if several and len(set(row[1:])) == 1]
    apart, measured = [row for row in rows if row not in alike], list[str]()
    if several:
        apart, measured = _told_once(apart)
    for number in range(1, len(sizing.branches) + 1):
        label = f"Branch {number}" if several else "Branch"
        yield label, [_measure(row, number) for row in apart]
    if alike or measured:
        yield "Both", [*measured, *(_measure(row, 1) for row in alike)]
    if not sizing.plans and any(branch.legs for branch in sizing.branches):
        yield "Pipes", [how_many(sizing)]  # the plan says it too, where there is one


def _told_once(rows: list[tuple[str, ...]]) -> tuple[list[tuple[str, ...]], list[str]]:
    """Take from where something is measured out of each branch's row, where that is the same."""
    apart, measured = [], []
    for name, *values in rows:
        _, _, origin = values[0].partition(" from ")
        if origin and all(value.endswith(f" from {origin}") for value in values):
            measured.append(f"{_MEASURED.get(name, name)} from {origin}")
            values = [value.removesuffix(f" from {origin}") for value in values]
        apart.append((name, *values))
    return apart, measured


def _measure(row: tuple[str, ...], number: int) -> str:
    name = "" if row[0] == SHAPE else f"{row[0][0].lower()}{row[0][1:]} "
    return f"{name}{row[number]}"


def size_text(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> RenderableType:
    """Branches to cut, what they should do, and what that rests on."""
    several = len(sizing.branches) > 1
    misfit = no_room(sizing)
    kept = kept_words(sizing)
    spacing = None if sizing.spacing_m is None else both(sizing.spacing_m)
    rows: list[Row] = [
        *([] if misfit is None else [(label_of(misfit), misfit.message)]),
        _drone(sizing),
        *(
            (f"Branch {number}" if several else "Branch", _branch(branch, plan))
            for number, (branch, plan) in enumerate(
                zip(sizing.branches, plans_of(sizing, wishes), strict=True), start=1
            )
        ),
        ("Length", _RUNS),
        *_room(sizing, wishes),
        *([("Spacing", f"{spacing} along the pipe between the two")] if spacing else []),
        *foretold_rows(sizing),
        *_elsewhere(sizing),
        *([] if kept is None else [("Later", sentence(kept))]),
        *(("More", gain) for gain in sizing.gains),
        *_costs(sizing),
        *(("Assumed", assumption) for assumption in sizing.assumptions),
        *(("Look out", doubt.message) for doubt in sizing.doubts if doubt is not misfit),
        *doubt_rows(sizing.advice),
        ("Before work", "read the cautions in the report before you go under the car"),
    ]
    return Group(labelled(rows), *_plans(sizing))


def _elsewhere(sizing: Sizing) -> Iterator[Row]:
    """Say what happens beside the drone, where the place is known that decides it."""
    change_db = sizing.predicted.elsewhere_change_db
    if math.isfinite(change_db):
        way = "quieter" if change_db <= 0.0 else "louder"
        beside = "the highest level at all other engine speeds"
        single = "; at some it may get louder" if change_db <= 0.0 else ""
        yield "Elsewhere", f"{beside} gets {abs(change_db):.1f} dB {way}{single}"


def _plans(sizing: Sizing) -> Iterator[RenderableType]:
    """Lay the plans side by side."""
    if not sizing.plans:
        return
    rows = [plan_row(plan) for plan in sizing.plans]
    wide = headed("Plans side by side", PLANS_HEAD, rows)
    yield Fitting(wide=wide, narrow=Group(*_plans_below(rows)))
    yield plain(ADJUSTED)


def _plans_below(rows: Iterable[tuple[str, ...]]) -> Iterator[RenderableType]:
    """Lay the plans one below the other: their names are too long to stand beside anything."""
    for name, *rest in rows:
        heads = (head.lower() for head in PLANS_HEAD[1:])
        yield plain(f"{name[0].upper()}{name[1:]}:")
        facts = "; ".join(f"{head} {each}" for head, each in zip(heads, rest, strict=True))
        yield Padding(plain(facts), (0, 0, 0, 4))


def _drone(sizing: Sizing) -> Row:
    target = sizing.target
    order = "" if target.engine_order is None else f" (order {target.engine_order:g})"
    if not sizing.others:
        return "Drone", f"{target.peak_hz:.1f} Hz{order}"
    at = [(each, each.rpm(each.peak_hz)) for each in sizing.targets]
    each = [f"{t.peak_hz:.1f} Hz" + (f" at {in_rpm(rpm)}" if rpm else "") for t, rpm in at]
    return "Drones", f"{listed(each)}{order}"


def _branch(branch: Branch, plan: BranchPlan | None) -> str:
    at_m = branch.position_m
    place = "" if at_m is None else f", {both(at_m)} {measured_from(branch.legs)}"
    if branch.legs:
        place = f", {one_on_each(branch.legs)}{place}"
    return (
        f"{both(branch.length_m)} of {branch.tube.name} tube, inner diameter "
        f"{diameter(branch.tube.inner_diameter_m)}{_can(branch.can)}{place}: "
        f"{branch.tuned_hz:.1f} Hz with gas at {temperature_both(branch.gas_temperature_k)}. "
        f"{_cap(branch, plan)}"
    )


def _cap(branch: Branch, plan: BranchPlan | None) -> str:
    """Say where the tube ends once fitted; what to saw, the card says."""
    cap, end_m = branch.cap, branch.tube_end_m if plan is None else plan.centreline_m
    if cap is None:
        return f"Fixed cap: fitted, {_piece(branch)} ends at {both(end_m)}"
    return (
        f"Sliding cap: fitted, {_piece(branch)} ends at {both(end_m)}; its sleeve starts "
        f"{both(cap.start_m)} out, which sounds like {both(branch.length_m)}, and slides "
        f"from 0 to {both(cap.furthest_m)} out, like {length(cap.reach_m.low)} to "
        f"{length(cap.reach_m.high)}"
    )


def _piece(branch: Branch) -> str:
    return "the tube" if branch.can is None else "neck and can together"


def _can(can: Can | None) -> str:
    if can is None:
        return ""
    return (
        f", with a can: of that length the first {both(can.neck_m)} are neck, the rest is "
        f"{can.tube.name} tube"
    )


def _costs(sizing: Sizing) -> Iterator[Row]:
    cost, hand = sizing.sensitivity, sizing.hand_method
    gas, cut = abs(cost.hz_per_kelvin), abs(cost.hz_per_mm)
    per_rpm = f", 1 rpm {cost.hz_per_rpm:.3f} Hz" if math.isfinite(cost.hz_per_rpm) else ""
    yield (
        "Errors cost",
        either(
            f"1 °C of gas {gas:.2f} Hz, 1 mm of length {cut:.2f} Hz",
            f"10 °F of gas {gas / 0.18:.2f} Hz, 1/8 in of length {3.175 * cut:.2f} Hz",
            f"1 °C of gas {gas:.2f} Hz, 1 mm of length {cut:.2f} Hz",
        )
        + per_rpm,
    )
    yield (
        "Hand method",
        f"cold air, no corrections: {both(hand.length_m)}, which would really tune "
        f"{hand.really_tunes_hz:.1f} Hz and give {decibel(hand.level_change_db)}",
    )
