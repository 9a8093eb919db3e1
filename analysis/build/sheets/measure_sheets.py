"""Sheets to fill in under the car, in the order of the crawl, with what ``pipenote car`` asks."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping, Sequence

from analysis.build.drawing.measure_picture import HEIGHT_MM, draw_where_to_measure
from analysis.build.drawing.pen import FAINT, THIN, Area, Pen, line_mm, wide_mm
from analysis.build.sheets.book import Paper, Sheet, make_pdf
from analysis.describe.question import Choice, Question
from analysis.describe.questions import BALANCE, ONE, PETROL, SPLIT, TWO, questions
from analysis.exhaust.sections import KINDS
from analysis.words.shown import either

# judgement: layout, moves no answer.
_ASKS_PT, _SMALL_PT = 9.5, 8.0
_BOX_MM = 3.0
_ROW_MM = 7.0
_PIECES = 10
_AFTER_MM = 1.6  # below a question
_WIDTHS_MM = (12.0, 76.0, 30.0, 30.0)
_SAFE = (
    "Measure a cold exhaust. Car on stands on level ground, wheels chocked, never under a jack "
    "alone."
)
# Answers that call for every question once; an eight with two joined pipes has the most.
_OF_TWO: Mapping[str, str] = {
    "engine": PETROL,
    "cylinders": "8",
    "layout": "",
    "range": "",
    "pipes": TWO,
    "left.1": "muffler, 0.5 m, 150 mm",
    "left.1.type": "",
    "left.2": "",
    "alike": "yes",
    "link": BALANCE,
    "link.at": "0.5 m",
    "link.size": "0.25 m, 40 mm",
}
_OF_ONE: Mapping[str, str] = {"engine": PETROL, "cylinders": "4", "pipes": ONE}
_AT_THE_ENGINE = ("units", "engine", "cylinders", "layout", "range", "pipes")
_TO_THE_TAIL = ("alike", "link", "link.at", "link.size", "places", "room", "beside", "gas")
_ALONG = (
    "Also note, from the same beginning, what a branch must keep clear of: the last catalyst ends "
    "at _________; oxygen sensors at _________ and _________; tank, lines or wiring from _________ "
    "to _________; hangers and bends at _________ and _________."
)


def measure_sheets(paper: Paper) -> bytes:
    """Give both pages as a PDF; they need no car, no drive and no file."""
    sheets = [
        Sheet(title="Your car, before you crawl under it", about=_SAFE, draw=_draw_engine),
        Sheet(
            title="Where to measure your exhaust",
            about="From the collector to the tail. pipenote car asks the same, in the same words.",
            draw=_draw_pipes,
        ),
    ]
    return make_pdf(
        sheets,
        paper,
        title="Where to measure your exhaust",
        foot=f"pipenote car · to fill in · {paper.name}",
    )


def asked() -> dict[str, Question]:
    """Every question on the sheets, by its key; pieces are asked for once."""
    tape = {"units": either("millimetres", "inches", "")}
    of_two = {question.key: question for question in questions({**_OF_TWO, **tape})}
    of_one = {question.key: question for question in questions({**_OF_ONE, **tape})}
    split = {each.key: each for each in questions({**_OF_ONE, **tape, "pipes": SPLIT})}
    return {**split, **of_two, "pipe.1": of_one["pipe.1"]}


def _draw_engine(pen: Pen, area: Area) -> None:
    every, y = asked(), area.top - 2.0
    for key in _AT_THE_ENGINE:
        y = _ask(pen, area, y, every[key])
    pen.line(area.left, y, area.right, y, FAINT)
    y = pen.paragraph(area.left, y - 2.0, area.width, "What to measure, and where", 10.5, bold=True)
    draw_where_to_measure(pen, Area(left=area.left, bottom=y - HEIGHT_MM, right=area.right, top=y))


def _draw_pipes(pen: Pen, area: Area) -> None:
    every = asked()
    piece, kind = every["pipe.1"], every["left.1.type"]
    y = pen.paragraph(
        area.left,
        area.top - 1.0,
        area.width,
        piece.asks.replace("Piece 1", "Each piece"),
        _ASKS_PT,
        bold=True,
    )
    hint = piece.hint.partition(" Example:")[0]
    y = pen.paragraph(area.left, y, area.width, hint, _SMALL_PT) - 1.0
    kinds = "; ".join(f"{word.name}: {word.looks}" for word in piece.words)
    y = pen.paragraph(area.left, y, area.width, f"What is it? {kinds}.", _SMALL_PT) - 1.0
    y = _piece_table(pen, area, y)
    inside = "; ".join(f"{choice.name}: {choice.looks}" for choice in kind.choices)
    y = pen.paragraph(area.left, y - 1.0, area.width, f"{kind.asks} {inside}.", _SMALL_PT) - 2.0
    y = pen.paragraph(area.left, y, area.width, _ALONG, _ASKS_PT) - 2.0
    for key in _TO_THE_TAIL:
        y = _ask(pen, area, y, every[key])


def _piece_table(pen: Pen, area: Area, top: float) -> float:
    """Draw a row for each piece, with boxes for what it is; gives the y below it."""
    heads = ("Piece", "What is it", "How long", "How wide", "Type of a muffler")
    edges = [area.left]
    for width in _WIDTHS_MM:
        edges.append(edges[-1] + width)
    for x, head in zip(edges, heads, strict=True):
        pen.text(x + 1.0, top - 4.0, head, _SMALL_PT, bold=True)
    y = top - 5.5
    pen.line(area.left, y, area.right, y, THIN)
    for number in range(1, _PIECES + 1):
        middle = y - _ROW_MM / 2.0
        pen.text(area.left + 1.0, middle - 1.3, f"{number}", _ASKS_PT, bold=True)
        for at, name in enumerate(KINDS):
            _tick(pen, edges[1] + 1.0 + at * 19.0, middle, name)
        y -= _ROW_MM
        pen.line(area.left, y, area.right, y, FAINT)
    for x in edges[1:]:
        pen.line(x - 0.5, top - 5.5, x - 0.5, y, FAINT)
    return y


def _ask(pen: Pen, area: Area, y: float, question: Question) -> float:
    """Write one question with its boxes or its blank; gives the y below it."""
    y = pen.paragraph(area.left, y, area.width, question.asks, _ASKS_PT, bold=True)
    if question.hint:
        y = pen.paragraph(area.left, y, area.width, question.hint, _SMALL_PT)
    if question.choices:
        return _boxes(pen, area, y - 0.5, question.choices) - _AFTER_MM
    y -= 6.0
    pen.line(area.left, y, area.left + 0.6 * area.width, y, THIN)
    return y - _AFTER_MM


def _boxes(pen: Pen, area: Area, y: float, choices: Sequence[Choice]) -> float:
    """Tick boxes from left to right, on as many lines as they take."""
    x, line = area.left, line_mm(_ASKS_PT) + 0.6
    for choice in choices:
        words = f"{choice.name} ({choice.looks})" if choice.looks else choice.name
        width = _BOX_MM + 3.0 + wide_mm(words, _SMALL_PT) + 5.0
        if x + width > area.right and x > area.left:
            x, y = area.left, y - line
        _tick(pen, x, y - line / 2.0, words)
        x += width
    return y - line


def _tick(pen: Pen, x: float, middle: float, words: str) -> None:
    half = _BOX_MM / 2.0
    pen.box(Area(left=x, bottom=middle - half, right=x + _BOX_MM, top=middle + half), THIN)
    pen.text(x + _BOX_MM + 1.2, middle - 1.1, words, _SMALL_PT)
