"""Answers typed in a row, as a person at a terminal would."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence

from analysis.describe.car_table import Table, car_table
from analysis.describe.interview import with_answer
from analysis.describe.question import Question
from analysis.describe.questions import next_question


def asked(typed: Sequence[str]) -> tuple[dict[str, str], Question | None]:
    """Answers to the questions as they come, and the question after them."""
    answers: dict[str, str] = {}
    for line in typed:
        question = next_question(answers)
        assert question is not None, f"no question is left for {line!r}"
        answers = with_answer(answers, question, line)
    return answers, next_question(answers)


def answered(typed: Sequence[str]) -> dict[str, str]:
    """All of the answers."""
    answers, left = asked(typed)
    assert left is None, f"not answered: {left}"
    return answers


def table_of(typed: Sequence[str]) -> Table:
    return car_table(answered(typed))
