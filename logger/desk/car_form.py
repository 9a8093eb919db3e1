"""The questions of the car as one form: each as it was answered, and what the car is so far."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from analysis.build.drawing.whole_exhaust import exhaust_svg
from analysis.describe.car_table import Table, car_table
from analysis.describe.facts import Fact, facts_of_engine, facts_of_exhaust
from analysis.describe.interview import with_answer
from analysis.describe.odd import odd_in, said_of_pipes
from analysis.describe.question import Question
from analysis.describe.questions import next_question
from analysis.describe.stretches import courses_of
from analysis.errors import CarError
from analysis.exhaust.car import Car, parse_car, read_car
from analysis.words.front import in_desk_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question with what was typed, and why that cannot be meant ("" where it can)."""

    question: Question
    typed: str
    complaint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A car as a page shows it: drawn to scale ("" without pieces), told, and what is odd."""

    drawing: str
    facts: tuple[Fact, ...]
    odd: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CarForm:
    """The form so far; ``table``, the car file's, is None until all that is needed is known.

    ``shown`` is the car of the answers that can be meant: a slip in one does not blank the drawing.
    """

    rows: tuple[Asked, ...]
    table: Table | None
    shown: Shown


def car_form(typed: Mapping[str, str]) -> CarForm:
    """Read what was typed, in the order of the questions; each answer decides what comes next.

    A question that nobody answered stands there empty. One that must be known is complained of
    only once something behind it was typed.
    """
    rows: list[Asked] = []
    answers: dict[str, str] = {}
    is_whole = True
    while (question := next_question(answers)) is not None:
        said = typed.get(question.key, "").strip()
        complaint = ""
        try:
            answers = with_answer(answers, question, said)
        except CarError as error:
            is_whole = False
            answers[question.key] = ""
            is_begun = typed.keys() - {"units"}  # which the desk may have answered
            complaint = str(error) if said or is_begun else ""
        rows.append(Asked(question=question, typed=said, complaint=complaint))
    table = car_table(answers)  # an answer that cannot be meant stands there as not known
    return CarForm(
        rows=tuple(rows),
        table=table if is_whole else None,
        shown=show_car(parse_car(table), "Your exhaust"),
    )


def read_and_show(file: Path) -> Shown | str:
    """Read a car file and show it, or say why it cannot be read."""
    try:
        return show_car(read_car(file), file.name)
    except CarError as error:
        return str(error)


def show_car(car: Car, title: str) -> Shown:
    """Draw a car, and say what is odd."""
    courses = courses_of(car)
    drawing = exhaust_svg(courses, title).partition("?>")[2] if courses else ""
    # of pipes that nobody told yet, nothing is foretold that could be wrong
    doubts = (*odd_in(car), *(said_of_pipes(car) if courses else ()))
    facts = (*facts_of_engine(car), *facts_of_exhaust(car))
    return Shown(
        drawing=drawing, facts=facts, odd=tuple(in_desk_words(doubt.message) for doubt in doubts)
    )
