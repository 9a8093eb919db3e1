"""What is odd about a car: nothing that is refused, but worth a second look before work starts."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import replace

from analysis.branches import Tube
from analysis.describe.stretches import Course, Stretch, courses_of
from analysis.errors import AnalysisError
from analysis.exhaust.car import Car
from analysis.exhaust.pipes import doubts_of_pipes, exhaust_line
from analysis.exhaust.sections import KINDS, MUFFLERS
from analysis.exhaust.tube_stock import sold_by_outside
from analysis.findings import Doubt
from analysis.words.lengths import diameter, length, rough_length
from analysis.words.quantities import temperature_both
from analysis.words.sentences import listed

# judgement: what is told as odd; no answer of a sizing moves with any of them.
_HARDLY_WIDER = 1.3  # a shell over its pipe: a plain muffler is twice as wide or more
_STEP = 1.35  # of one pipe's inner diameter over the next one's
_LENGTHS_M = (1.0, 7.0)  # of a road car's exhaust from the collector to the tail
_SHORT_MUFFLER_M, _LONG_MUFFLER_M = 0.15, 1.2
_WIDE_M = 0.35  # of a muffler's shell
_SKIN_K = 423.15  # gas at a collector is hotter than 150 degC at any cruise


def odd_in(car: Car) -> tuple[Doubt, ...]:
    """Give what is odd, the pipes in order, then the room and the gas."""
    courses = courses_of(car)
    doubts = [
        doubt if len(courses) == 1 else replace(doubt, message=f"{course.leg}: {doubt.message}")
        for number, course in enumerate(courses)
        if not any(course.is_as(before) for before in courses[:number])
        for doubt in _of_course(course)
    ]
    return (*doubts, *_whole_length(courses), *_room(car, courses), *_gas(car))


def _of_course(course: Course) -> Iterator[Doubt]:
    for before, each in zip((None, *course.stretches), course.stretches, strict=False):
        yield from _as_wide_as_pipe(course, each)
        yield from _length_of_muffler(each)
        yield from _wide_shell(each)
        if before is not None:
            yield from _step(before, each)
    yield from _outside_diameter(course)
    for start_m, end_m in course.places_m:
        yield from _over_muffler(course, start_m, end_m)
        yield from _before_catalyst(course, start_m)


def _as_wide_as_pipe(course: Course, each: Stretch) -> Iterator[Doubt]:
    if each.section.kind.takes_branch or each.section.kind is MUFFLERS["resonator"]:
        return
    pipes_m = [
        other.section.inner_diameter_m
        for other in course.stretches
        if abs(other.number - each.number) == 1 and other.section.kind.takes_branch
    ]
    shell_m = each.section.inner_diameter_m
    if pipes_m and shell_m < _HARDLY_WIDER * max(pipes_m):
        yield Doubt(
            code="muffler_as_narrow_as_pipe",
            message=f"Piece {each.number}, a {each.name}, is {diameter(shell_m)} wide, hardly "
            f"wider than its pipe, {diameter(max(pipes_m))}. Its width is that of the shell, not "
            "of the hole in its end.",
        )


def _outside_diameter(course: Course) -> Iterator[Doubt]:
    """Tell the commonest slip: a pipe's outside in place of its inside."""
    numbers: dict[Tube, list[str]] = {}
    for each in course.stretches:
        tube = sold_by_outside(each.section.inner_diameter_m)
        if each.section.kind.takes_branch and tube is not None:
            numbers.setdefault(tube, []).append(str(each.number))
    for tube, those in numbers.items():
        yield Doubt(
            code="outside_diameter",
            message=f"Piece {listed(those)} may be told by its outside, since tube is sold as "
            f"{diameter(tube.outer_diameter_m)} wide. Inside, that tube is about "
            f"{diameter(tube.inner_diameter_m)}. Measure inside, or write it as outside_diameter.",
        )


def _length_of_muffler(each: Stretch) -> Iterator[Doubt]:
    long_m = each.section.length_m
    if each.section.kind not in MUFFLERS.values() or _SHORT_MUFFLER_M <= long_m <= _LONG_MUFFLER_M:
        return
    yield Doubt(
        code="length_of_muffler",
        message=f"Piece {each.number}, a {each.name}, is {rough_length(long_m)} long; most are "
        f"{rough_length(_SHORT_MUFFLER_M)} to {rough_length(_LONG_MUFFLER_M)}. Its length is that "
        "of the shell, without the pipes at its ends.",
    )


def _wide_shell(each: Stretch) -> Iterator[Doubt]:
    if each.section.inner_diameter_m > _WIDE_M:
        yield Doubt(
            code="wide_shell",
            message=f"Piece {each.number}, a {each.name}, is "
            f"{diameter(each.section.inner_diameter_m)} across inside; hardly any is wider than "
            f"{diameter(_WIDE_M)}. Check the unit.",
        )


def _step(before: Stretch, each: Stretch) -> Iterator[Doubt]:
    if not (before.section.kind.takes_branch and each.section.kind.takes_branch):
        return
    one_m, next_m = before.section.inner_diameter_m, each.section.inner_diameter_m
    if max(one_m, next_m) > _STEP * min(one_m, next_m):
        yield Doubt(
            code="step_of_pipe",
            message=f"Pieces {before.number} and {each.number} are pipes of {diameter(one_m)} and "
            f"{diameter(next_m)} inside: a large step. Is a piece between them missing, or a unit "
            "wrong?",
        )


def _over_muffler(course: Course, start_m: float, end_m: float) -> Iterator[Doubt]:
    """Tell places that assume a muffler to be elsewhere than the pieces put it."""
    for each in course.stretches:
        overlap_m = min(end_m, each.end_m) - max(start_m, each.start_m)
        if each.section.kind.takes_branch or overlap_m <= 1e-6:
            continue
        yield Doubt(
            code="place_over_muffler",
            message=f"The room from {length(start_m)} to {length(end_m)} runs over piece "
            f"{each.number}, the {each.name} from {length(each.start_m)} to {length(each.end_m)}: "
            "no branch goes there. Either the room is measured from elsewhere, or a piece before "
            "it is longer than told.",
        )


def _before_catalyst(course: Course, start_m: float) -> Iterator[Doubt]:
    """Branches go behind the last catalyst: law, and the sensors that watch it."""
    ends_m = [each.end_m for each in course.stretches if each.section.kind is KINDS["catalyst"]]
    if ends_m and start_m < max(ends_m) - 1e-6:
        yield Doubt(
            code="room_before_catalyst",
            message=f"There is room told from {length(start_m)}, but the last catalyst ends at "
            f"{length(max(ends_m))}. A branch belongs behind it, clear of the oxygen sensors.",
        )


def _whole_length(courses: tuple[Course, ...]) -> Iterator[Doubt]:
    if len(courses) != 1:
        return
    whole_m = courses[0].length_m
    if not _LENGTHS_M[0] <= whole_m <= _LENGTHS_M[1]:
        yield Doubt(
            code="whole_length",
            message=f"All pieces together are {rough_length(whole_m)}; most cars have "
            f"{rough_length(_LENGTHS_M[0])} to {rough_length(_LENGTHS_M[1])} from the "
            "collector to the tail. Is a piece missing, or a unit wrong?",
        )


def _room(car: Car, courses: tuple[Course, ...]) -> Iterator[Doubt]:
    longest_m = max((course.length_m for course in courses), default=0.0)
    if car.longest_branch_m is not None and courses and car.longest_branch_m > longest_m:
        yield Doubt(
            code="room_longer_than_pipe",
            message=f"There is room for a branch of {rough_length(car.longest_branch_m)}, longer "
            f"than the pipe itself, {rough_length(longest_m)}. Check the unit.",
        )


def _gas(car: Car) -> Iterator[Doubt]:
    inlet_k = car.inlet_gas_k
    if inlet_k is not None and inlet_k.high < _SKIN_K:
        yield Doubt(
            code="gas_is_skin",
            message="The gas at the collector is told colder than "
            f"{temperature_both(_SKIN_K)}. That is what the skin of a pipe shows; "
            "the gas is far hotter. Leave it out if nobody measured in the gas.",
        )


def said_of_pipes(car: Car) -> tuple[Doubt, ...]:
    """Say what a sizing will say of the pipes, and why it cannot size them."""
    try:
        exhaust_line(car)
    except AnalysisError as error:
        return (Doubt(code="cannot_be_sized", message=f"It is read and kept, but {error}."),)
    return doubts_of_pipes(car)
