"""One step of asking: an answer is taken in and checked with the rest, or the last taken back."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping

from analysis.describe.car_table import car_table
from analysis.describe.question import Answers, Question
from analysis.describe.questions import next_question
from analysis.describe.stretches import courses_of
from analysis.errors import CarError
from analysis.exhaust.car import parse_car
from analysis.words.lengths import length


def with_answer(answers: Answers, question: Question, typed: str) -> dict[str, str]:
    """Give the answers with one more.

    Raises
    ------
    CarError
        It cannot be read, or does not go with the answers before it.
    """
    more = {**answers, question.key: question.answer(typed)}
    parse_car(car_table(more))
    return more


def without_last(answers: Answers) -> dict[str, str]:
    """Go one question back."""
    return dict(list(answers.items())[:-1])


def kept_answers(data: object) -> dict[str, str]:
    """Take answers that were kept, as far as they still answer the questions, in their order.

    Raises
    ------
    CarError
        They are no answers.
    """
    if not isinstance(data, Mapping) or not all(
        isinstance(key, str) and isinstance(value, str) for key, value in data.items()
    ):
        raise CarError("it holds no answers")
    answers: dict[str, str] = {}
    while (question := next_question(answers)) is not None and question.key in data:
        try:
            answers = with_answer(answers, question, data[question.key])
        except CarError:
            break  # what was answered after it may hang on it
    return answers


def so_far(answers: Answers, key: str) -> str:
    """Say how long a pipe is by now, after the answer to ``key``; "" where that is no piece."""
    leg, _, number = key.rpartition(".")
    if not (leg and number.isdecimal() and answers.get(key)):
        return ""
    courses = courses_of(parse_car(car_table(answers)))
    course = next((each for each in courses if each.leg == leg), None)
    if course is None:
        return ""
    last = course.stretches[-1]
    return f"From {length(last.start_m)} to {length(last.end_m)}."
