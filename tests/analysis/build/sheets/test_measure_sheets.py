"""Sheets to fill in under the car: they ask what ``pipenote car`` asks, in its words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

import pytest

from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.measure_sheets import measure_sheets
from analysis.describe.questions import questions
from tests.analysis.build.sheets.printed import MM, Printed

# the rotary's rotors stand for its cylinders, and a leg's name for where its pieces lie
ONLY_ASKED_OF = {"rotors"}
PIECE = re.compile(r"Piece [0-9]+( of the [a-z]+ pipe)?: ")
INTERVIEWS: dict[str, Mapping[str, str]] = {
    "one pipe": {"cylinders": "4", "pipes": "one pipe", "pipe.1": "pipe, 1 m, 60 mm"},
    "two pipes": {
        "cylinders": "8",
        "pipes": "two pipes",
        "left.1": "muffler, 0.5 m, 150 mm",
        "link": "balance pipe",
        "link.at": "0.5 m",
        "link.size": "0.25 m, 40 mm",
    },
    "joined": {"cylinders": "6", "pipes": "two that join", "alike": "yes"},
    "split": {"cylinders": "6", "pipes": "one that splits", "alike": "yes"},
}


@cache
def printed(paper: str) -> Printed:
    return Printed(measure_sheets(PAPERS[paper]))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("answers", INTERVIEWS.values(), ids=INTERVIEWS)
def test_every_question_stands_on_them_in_its_own_words(
    answers: Mapping[str, str], paper: str
) -> None:
    text = printed(paper).text
    for question in questions({"units": "", "engine": "petrol", "layout": "", **answers}):
        if question.key in ONLY_ASKED_OF:
            continue
        assert PIECE.sub("Each piece: ", question.asks) in text
        for choice in question.choices:
            assert choice.name in text


def test_they_are_in_the_order_of_the_crawl() -> None:
    text = printed("a4").text
    order = ("What engine", "from the engine to the tail?", "BEGIN HERE", "Each piece", "room to")
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert "oxygen sensors" in text
    assert "never under a jack" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_two_pages_with_nothing_off_the_sheet(paper: str) -> None:
    sheets = printed(paper)
    assert len(sheets.texts) == 2
    for number, page in enumerate(sheets.pdf.pages):
        for left, bottom, right, _, words in sheets.boxes(number):
            assert left >= 9.0 * MM, words
            assert right <= float(page.width) - 9.0 * MM, words
            assert bottom > 16.0 * MM or "sheet" in words
