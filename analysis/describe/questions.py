"""Every question of the car, in order, each only where the answers before it call for it.

They are data: a terminal asks them one by one, and a form may show them all at once.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from analysis.describe import said
from analysis.describe.piece import piece
from analysis.describe.question import Answers, Choice, Question
from analysis.drive import MOST_CYLINDERS
from analysis.errors import CarError
from analysis.words.mufflers import EMPTY, KIND_LOOKS, LOOKS

_UNIT_NAMES = {"millimetres": "mm", "inches": "in"}
_ALSO = {"millimetres": ("mm", "metric", "millimeters"), "inches": ("imperial",)}
PETROL, DIESEL, TWO_STROKE, ROTARY = "petrol", "diesel", "two-stroke", "rotary"
ONE, TWO, JOIN, SPLIT = "one pipe", "two pipes", "two that join", "one that splits"
X, BALANCE = "x", "balance pipe"
_MOST_PIECES = 20  # of one pipe; judgement: the question stops coming, no car has as many
_YES_NO = (Choice(name="yes"), Choice(name="no"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeShape:
    """One way for pipes to run: the legs asked for, and the one that branches go on."""

    legs: tuple[tuple[str, tuple[str, ...]], ...]
    like: tuple[str, str] | None = None
    room_on: str


# the ways that pipes run, as legs of the car file: name and what feeds it
SHAPES = {
    ONE: PipeShape(legs=(("pipe", ("all",)),), room_on="pipe"),
    TWO: PipeShape(
        legs=(("left", ("bank 1",)), ("right", ("bank 2",))),
        like=("right", "left"),
        room_on="left",
    ),
    JOIN: PipeShape(
        legs=(("left", ("bank 1",)), ("right", ("bank 2",)), ("rear", ("left", "right"))),
        like=("right", "left"),
        room_on="rear",
    ),
    SPLIT: PipeShape(
        legs=(("front", ("all",)), ("left", ("front",)), ("right", ("front",))),
        like=("right", "left"),
        room_on="front",
    ),
}


def _example(unit: str, *, mm: str, inch: str, told: str) -> str:
    """Give an example as the tape shows it; ``told`` has its units, for who has not said."""
    shown = {"mm": mm, "in": inch}.get(unit, told)
    return f"For example: {shown}."


def next_question(answers: Answers) -> Question | None:
    """Give the first question that is not answered yet; None when all are."""
    return next((each for each in questions(answers) if each.key not in answers), None)


def questions(answers: Answers) -> Iterator[Question]:
    """Give the questions in order, as far as the answers tell which come next."""
    yield _UNITS
    yield from _of_the_engine(answers)
    yield from _of_the_pipes(answers)
    unit = unit_of(answers)
    if has_pieces(answers):
        yield _places(answers, unit)
    yield _room(unit)
    yield _beside(unit)
    yield _gas(answers)


def unit_of(answers: Answers) -> str:
    """Give the unit of lengths without one, empty where nobody says."""
    return _UNIT_NAMES.get(answers.get("units", ""), "")


def shape_of(answers: Answers) -> PipeShape:
    """Give the way that the pipes run, one pipe where nobody says."""
    return SHAPES.get(answers.get("pipes", ""), SHAPES[ONE])


def legs_asked(answers: Answers) -> tuple[str, ...]:
    """Legs whose pieces are asked for: not one that is said to be like another."""
    shape = shape_of(answers)
    alike = shape.like is not None and answers.get("alike", "yes") != "no"
    return tuple(
        name for name, _ in shape.legs if not (alike and shape.like and name == shape.like[0])
    )


def pieces_of(answers: Answers, leg: str) -> Iterator[str]:
    """Keys of the pieces told of a leg, in order."""
    for number in range(1, _MOST_PIECES + 1):
        if not answers.get(f"{leg}.{number}"):
            return
        yield f"{leg}.{number}"


def has_pieces(answers: Answers) -> bool:
    """Whether any piece was told."""
    return any(any(pieces_of(answers, leg)) for leg in legs_asked(answers))


_UNITS = Question(
    key="units",
    asks="What does your tape measure show?",
    hint="A bare number is then taken so; 1.6 m, 63 in or 5 ft 3 in go too.",
    choices=tuple(Choice(name=name, also=_ALSO[name]) for name in _UNIT_NAMES),
    if_unknown="each length needs its unit",
)


def _of_the_engine(answers: Answers) -> Iterator[Question]:
    yield Question(
        key="engine",
        asks="What engine is it?",
        choices=(
            Choice(name=PETROL, looks="four-stroke", also=("gas", "gasoline")),
            Choice(name=DIESEL, looks="four-stroke"),
            Choice(name=TWO_STROKE, also=("2-stroke", "two stroke")),
            Choice(name=ROTARY, also=("wankel",)),
        ),
        if_unknown="taken as four-stroke petrol",
    )
    if answers.get("engine") == ROTARY:
        yield Question(
            key="rotors", asks="How many rotors?", hint="Mostly 2.", read=_whole_number(1, 6)
        )
        return
    yield Question(
        key="cylinders",
        asks="How many cylinders?",
        hint="As many as spark plugs, or injectors of a diesel.",
        read=_whole_number(1, MOST_CYLINDERS),
    )
    cylinders = int(answers.get("cylinders") or 1)
    if cylinders > 1:
        yield Question(
            key="layout",
            asks="How do the cylinders stand, and fire?",
            choices=_layouts(cylinders),
            if_unknown="taken as firing evenly",
        )


def _layouts(cylinders: int) -> tuple[Choice, ...]:
    """Layouts that so many cylinders have; common practice, no source."""
    choices = [
        Choice(name="inline", looks="all in one row", also=("straight", "in line", "row")),
        Choice(name="V (even fire)", looks="most V6, V10, V12"),
        Choice(name="odd-fire V", looks="V-twins, some old V6"),
    ]
    if cylinders == 8:
        choices += [
            Choice(name="cross-plane V", looks="burbles: nearly every V8"),
            Choice(name="flat-plane V", looks="screams: the sides fire in turn"),
        ]
    if cylinders % 2 == 0:
        choices.append(
            Choice(
                name="boxer",
                looks="flat, opposed",
                also=("flat four", "flat six", "flat 4", "flat 6"),
            )
        )
    if cylinders > 2:
        choices.append(Choice(name="radial", looks="a star"))
    return tuple(choices)


def _of_the_pipes(answers: Answers) -> Iterator[Question]:
    yield Question(
        key="range",
        asks="Between which engine speeds do you drive?",
        hint="In rpm, for example: 1200 to 3600.",
        if_unknown="as on your test drive",
        read=_checked(said.rpm_range),
    )
    if int(answers.get("cylinders") or answers.get("rotors") or 1) > 1:
        yield _PIPES
    shape = shape_of(answers)
    for leg, _ in shape.legs:
        if shape.like is not None and leg == shape.like[0]:
            yield Question(
                key="alike",
                asks=f"Is the {leg} pipe the same as the {shape.like[1]} one?",
                hint="Lengths within 2 %, same mufflers.",
                choices=_YES_NO,
                if_unknown="taken as the same",
            )
        if leg in legs_asked(answers):
            yield from _pieces(answers, leg)
    if answers.get("pipes") == TWO:
        yield from _link(answers)


_PIPES = Question(
    key="pipes",
    asks="How do the pipes run from the engine to the tail?",
    choices=(
        Choice(name=ONE, looks="for all cylinders", also=("one", "single")),
        Choice(name=TWO, looks="one from each bank, a tail each", also=("two", "dual")),
        Choice(name=JOIN, looks="from each bank, into one rear pipe"),
        Choice(name=SPLIT, looks="one front pipe, two tails"),
    ),
    if_unknown="taken as one pipe",
)

_WHERE_A_LEG_BEGINS = {
    "pipe": "Begin at the collector, where the cylinders' pipes meet, and go on to the tail.",
    "front": "Begin at the collector, where the cylinders' pipes meet, and go on to the split.",
    "rear": "Begin where the two meet, and go on to the tail.",
    "left": "Begin where this pipe begins, and go on to its end.",
    "right": "Begin where this pipe begins, and go on to its end.",
}


def _pieces(answers: Answers, leg: str) -> Iterator[Question]:
    unit = unit_of(answers)
    example = (
        "pipe, 63, 2.37" if unit == "in" else "pipe, 1600, 60" if unit else "pipe, 1.6 m, 60 mm"
    )
    whose = "" if leg == "pipe" else f" of the {leg} pipe"
    for number in range(1, _MOST_PIECES + 1):
        yield Question(
            key=f"{leg}.{number}",
            asks=f"Piece {number}{whose}: what is it, how long, how wide?",
            hint=(
                f"{_WHERE_A_LEG_BEGINS[leg]} Measure along the middle. A pipe is as wide "
                "as it is inside; or say: 2.5 in outside, 16 gauge. All else is as wide as its "
                f"shell is outside; pipenote takes off the wall. Example: {example}."
            )
            if number == 1
            else "",
            words=tuple(Choice(name=name, looks=looks) for name, looks in KIND_LOOKS.items())
            if number == 1
            else (),
            if_unknown="not known; no place can be found then"
            if number == 1
            else "the pipe ends here",
            read=_checked(lambda text: piece(text, unit)),
        )
        told = answers.get(f"{leg}.{number}")
        if not told:
            return
        section = piece(told, unit)
        if section["kind"] == "muffler" and "type" not in section:
            yield _type(f"{leg}.{number}.type")


def _type(key: str) -> Question:
    return Question(
        key=key,
        asks="What is inside that muffler?",
        hint="See the maker's page, or look in with a lamp.",
        choices=(
            *(Choice(name=name, looks=looks) for name, looks in LOOKS.items()),
            Choice(name=EMPTY, looks=KIND_LOOKS["chamber"]),
        ),
        if_unknown="all of them count",
    )


def _link(answers: Answers) -> Iterator[Question]:
    unit = unit_of(answers)
    yield Question(
        key="link",
        asks="Are the two pipes joined on the way?",
        choices=(
            Choice(name="no"),
            Choice(name=X, looks="they touch and cross"),
            Choice(name=BALANCE, looks="a short pipe between them"),
        ),
        if_unknown="taken as not joined",
    )
    if answers.get("link") not in (X, BALANCE):
        return
    yield Question(
        key="link.at",
        asks="How far along the pipes is that?",
        hint="From where each pipe begins. "
        + _example(unit, mm="900", inch="35 1/2", told="0.9 m"),
        read=_checked(lambda text: said.length(text, unit)),
    )
    if answers["link"] == BALANCE:
        yield Question(
            key="link.size",
            asks="How long is the balance pipe, and how wide inside?",
            hint=_example(unit, mm="250, 40", inch="10, 1 3/8", told="0.25 m, 40 mm"),
            read=_checked(lambda text: piece(f"pipe, {text}", unit)),
        )


def _places(answers: Answers, unit: str) -> Question:
    shape = shape_of(answers)
    whose = {ONE: "", TWO: " of each pipe"}.get(
        answers.get("pipes") or ONE, f" of the {shape.room_on} pipe"
    )
    return Question(
        key="places",
        asks="Where along it is there room to weld on a branch?",
        hint=f"From the beginning{whose}; behind the last catalyst, clear of sensors and tank. "
        + _example(
            unit,
            mm="300 to 1400, 2200 to 3700",
            inch="12 to 55, 87 to 145",
            told="0.3 m to 1.4 m, 2.2 m to 3.7 m",
        ),
        if_unknown="anywhere on a pipe",
        read=_checked(lambda text: said.places(text, unit)),
    )


def _room(unit: str) -> Question:
    return Question(
        key="room",
        asks="How long may a branch be, and how wide outside?",
        hint="A closed tube beside the pipe, bends and all. "
        + _example(unit, mm="1100, 120", inch="43, 4 3/4", told="1.1 m, 120 mm"),
        if_unknown="as long and wide as it takes",
        read=_checked(lambda text: said.one_or_two_lengths(text, unit)),
    )


def _beside(unit: str) -> Question:
    return Question(
        key="beside",
        asks="How far out from the pipe is there room?",
        # 200 to 300 mm: common practice, no source
        hint="Beside the pipe, where the branch will lie along it; most cars have 200 to 300 mm "
        f"(8 to 12 in). {_example(unit, mm='250', inch='10', told='250 mm')}",
        if_unknown="250 mm (10 in) is taken",
        read=_checked(lambda text: said.length(text, unit)),
    )


def _gas(answers: Answers) -> Question:
    diesel = " A diesel's is cooler: 200 to 450 degC is taken." * (answers.get("engine") == DIESEL)
    return Question(
        key="gas",
        asks="How hot is the gas at the collector, and at the tail, cruising?",
        hint="By a probe in the gas; the skin is far colder. For example: 450 degC, 200 degC."
        f"{diesel}",
        if_unknown="a wide range is taken",
        read=_checked(said.one_or_two_temperatures),
    )


def _whole_number(low: int, high: int) -> Callable[[str], str]:
    """Take the one number in an answer, as in V8."""

    def read(text: str) -> str:
        numbers = re.findall("[0-9]+", text)
        is_whole = len(numbers) == 1 and not re.search(r"[-.,]", text)
        if not is_whole or not low <= int(numbers[0][:6]) <= high:
            raise CarError(f"give a whole number, {low} to {high}")
        return str(int(numbers[0]))

    return read


def _checked(read: Callable[[str], object]) -> Callable[[str], str]:
    """Keep the answer as it was typed, once it can be read."""

    def checked(text: str) -> str:
        read(text)
        return text

    return checked
