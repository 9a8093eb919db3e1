"""Every question of the car, in order, each only where the answers before it call for it.

They are data: a terminal asks them one by one, and a form may show them all at once. Their words
are ``questions.toml``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from analysis.basics.own_files import one_line, own_text
from analysis.describe import said
from analysis.describe.piece import EXAMPLES, piece
from analysis.describe.question import Answers, Choice, Question
from analysis.drive import MOST_CYLINDERS
from analysis.errors import CarError
from analysis.exhaust.mufflers import UNKNOWN
from analysis.words.mufflers import EMPTY, KIND_LOOKS, LOOKS

_TOLD = tomllib.loads(own_text("analysis.describe", "questions.toml"))
_UNIT_NAMES = {"millimetres": "mm", "inches": "in"}
# as the table names its choices
PETROL, DIESEL, TWO_STROKE, ROTARY = "petrol", "diesel", "two-stroke", "rotary"
ONE, TWO, JOIN, SPLIT = "one pipe", "two pipes", "two that join", "one that splits"
X, BALANCE = "x", "balance pipe"
_MOST_PIECES = 20  # of one pipe; judgement: the question stops coming, no car has as many


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeShape:
    """One way for pipes to run: the legs asked for, and the one that branches go on."""

    legs: tuple[tuple[str, tuple[str, ...]], ...]
    room_on: str


LEFT, RIGHT = "left", "right"  # two pipes beside each other; the right one may be told as alike
_FROM_BANKS = ((LEFT, ("bank 1",)), (RIGHT, ("bank 2",)))
# the ways that pipes run, as legs of the car file: name and what feeds it
_SHAPES = {
    ONE: PipeShape(legs=(("pipe", ("all",)),), room_on="pipe"),
    TWO: PipeShape(legs=_FROM_BANKS, room_on=LEFT),
    JOIN: PipeShape(legs=(*_FROM_BANKS, ("rear", (LEFT, RIGHT))), room_on="rear"),
    SPLIT: PipeShape(
        legs=(("front", ("all",)), (LEFT, ("front",)), (RIGHT, ("front",))), room_on="front"
    ),
}


def next_question(answers: Answers) -> Question | None:
    """Give the first question that is not answered yet; None when all are."""
    return next((each for each in questions(answers) if each.key not in answers), None)


def questions(answers: Answers) -> Iterator[Question]:
    """Give the questions in order, as far as the answers tell which come next."""
    unit, shape = unit_of(answers), shape_of(answers)
    yield _question("units")
    yield from _of_the_engine(answers)
    yield from _of_the_pipes(answers)
    if has_pieces(answers):
        whose = {ONE: "", TWO: " of each pipe"}.get(
            answers.get("pipes") or ONE, f" of the {shape.room_on} pipe"
        )
        yield _question("places", unit, lambda text: said.places(text, unit), whose=whose)
    yield _question("room", unit, lambda text: said.one_or_two_lengths(text, unit))
    yield _question("beside", unit, lambda text: said.length(text, unit))
    hotter = {} if answers.get("engine") == DIESEL else {"diesel": ""}
    yield _question("gas", unit, said.one_or_two_temperatures, **hotter)


def _question(
    name: str, unit: str = "", read: Callable[[str], object] | None = None, **words: str
) -> Question:
    """Ask what the table says under this name, in the words for this unit; see `_checked`."""
    told = _TOLD[name]
    own = {key: each[unit or "told"] for key, each in told.items() if isinstance(each, dict)}
    words = own | words
    hint = one_line(told.get("hint", "")).format(**words)
    if example := words.get("example"):
        hint = f"{hint} For example: {example}.".strip()
    return Question(
        key=name,
        asks=told["asks"].format(**words),
        hint=hint,
        choices=tuple(map(_choice, told.get("choices", ()))),
        if_unknown=told.get("if_unknown", "").format(**words),
        read=str.strip if read is None else _checked(read),
    )


def _choice(told: Mapping[str, Any]) -> Choice:
    also = tuple(told.get("also", ()))
    return Choice(name=told["name"], looks=told.get("looks", ""), also=also)


def unit_of(answers: Answers) -> str:
    """Give the unit of lengths without one, empty where nobody says."""
    return _UNIT_NAMES.get(answers.get("units", ""), "")


def shape_of(answers: Answers) -> PipeShape:
    """Give the way that the pipes run, one pipe where nobody says."""
    return _SHAPES.get(answers.get("pipes", ""), _SHAPES[ONE])


def legs_asked(answers: Answers) -> tuple[str, ...]:
    """Legs whose pieces are asked for: not the right one where it is like the left."""
    alike = answers.get("alike", "yes") != "no"
    return tuple(name for name, _ in shape_of(answers).legs if not (alike and name == RIGHT))


def pieces_of(answers: Answers, leg: str) -> Iterator[str]:
    """Keys of the pieces told of a leg, in order."""
    for number in range(1, _MOST_PIECES + 1):
        if not answers.get(f"{leg}.{number}"):
            return
        yield f"{leg}.{number}"


def has_pieces(answers: Answers) -> bool:
    """Whether any piece was told."""
    return any(any(pieces_of(answers, leg)) for leg in legs_asked(answers))


def _of_the_engine(answers: Answers) -> Iterator[Question]:
    yield _question("engine")
    if answers.get("engine") == ROTARY:
        yield replace(_question("rotors"), read=_whole_number(1, 6))
        return
    yield replace(_question("cylinders"), read=_whole_number(1, MOST_CYLINDERS))
    cylinders = int(answers.get("cylinders") or 1)
    if cylinders > 1:
        has = {"eight": cylinders == 8, "even": cylinders % 2 == 0, "three or more": cylinders > 2}
        choices = (each for each in _TOLD["layout"]["choices"] if has.get(each.get("of"), True))
        yield replace(_question("layout"), choices=tuple(map(_choice, choices)))


def _of_the_pipes(answers: Answers) -> Iterator[Question]:
    yield _question("range", "", said.rpm_range)
    if int(answers.get("cylinders") or answers.get("rotors") or 1) > 1:
        yield _question("pipes")
    for leg, _ in shape_of(answers).legs:
        if leg == RIGHT:
            yield _question("alike", leg=RIGHT, other=LEFT)
        if leg in legs_asked(answers):
            yield from _pieces(answers, leg)
    if answers.get("pipes") == TWO:
        yield from _link(answers)


def _pieces(answers: Answers, leg: str) -> Iterator[Question]:
    unit = unit_of(answers)
    words = {
        "whose": "" if leg == "pipe" else f" of the {leg} pipe",
        "begin": _TOLD["begin"][leg],
        "piece": EXAMPLES[unit],
    }
    kinds = tuple(Choice(name=name, looks=looks) for name, looks in KIND_LOOKS.items())
    for number in range(1, _MOST_PIECES + 1):
        key, is_first = f"{leg}.{number}", number == 1
        name = "first_piece" if is_first else "piece"
        asked = _question(name, "", lambda text: piece(text, unit), number=str(number), **words)
        yield replace(asked, key=key, words=kinds if is_first else ())
        told = answers.get(key)
        if not told:
            return
        section = piece(told, unit)
        if section["kind"] == "muffler" and "type" not in section:
            looks = (*LOOKS.items(), (EMPTY, KIND_LOOKS["chamber"]))
            types = tuple(Choice(name=name, looks=how) for name, how in looks if name != UNKNOWN)
            yield replace(_question("type"), key=f"{key}.type", choices=types)


def _link(answers: Answers) -> Iterator[Question]:
    unit = unit_of(answers)
    yield _question("link")
    if answers.get("link") not in (X, BALANCE):
        return
    yield _question("link.at", unit, lambda text: said.length(text, unit))
    if answers["link"] == BALANCE:
        yield _question("link.size", unit, lambda text: piece(f"pipe, {text}", unit))


def _whole_number(low: int, high: int) -> Callable[[str], str]:
    """Take the one number in an answer, as in V8."""

    def read(text: str) -> str:
        numbers = re.findall("[0-9]+", text)
        # one number, as V8 has; 2.5 and 4-6 hold two
        is_whole = len(numbers) == 1 and not re.search(r"[-.,]", text)
        # six digits are too many already, and Python refuses to read thousands
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
