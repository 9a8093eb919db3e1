"""Pages of text: cautions first, then the order of work."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.build.drawing.pen import Area, Pen, line_mm, wrapped
from analysis.build.sheets.book import Paper, Sheet, free_area
from analysis.build.sheets.can_words import with_can
from analysis.build.sheets.cap_words import with_fixed_cap
from analysis.words.cautions import CAUTIONS, DEFER

# judgement: layout, moves no answer.
_SIZES_PT = (10.0, 9.5, 9.0, 8.5)  # the largest with which a text fits on its page
_SMALLER = 0.8  # times that, for sources
_GAP_MM = 2.2
_LABEL_MM = 38.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One entry: what it is called, what to do, and on whose word (perhaps empty)."""

    label: str
    text: str
    source: str = ""


def caution_sheet(paper: Paper, fit: str | None) -> Sheet:
    """List what can hurt, and whose rule says so; first of all ``fit``, where room was assumed."""
    listed = [Item(label=label, text=text, source=source) for label, text, source in CAUTIONS]
    items = [Item(label="Who decides", text=DEFER), *listed]
    if fit is not None:
        items.insert(0, Item(label="Does it fit?", text=fit))
    return _page("Before you start: cautions", "Read all of it once.", items, paper)


def work_sheet(
    paper: Paper, *, several: bool, placed: bool, cans: Sequence[bool], fixed: bool
) -> Sheet:
    """Tell how to build, in order; ``placed`` when the branches' positions are known.

    ``cans``: which branches have one. ``fixed``: no cap slides.
    """
    first, mark, *rest = _STEPS
    steps = [first, mark if placed else (mark[0], f"{_FIND_A_PLACE} {mark[1]}"), *rest]
    steps = with_can(steps) if any(cans) else steps
    steps = with_fixed_cap(steps, all_cans=all(cans)) if fixed else steps
    if several:
        tests = next(n for n, (label, _) in enumerate(steps) if label == _LEAK_TEST)
        steps = [*steps[:tests], _SECOND, *steps[tests:]]
    items = [
        Item(label=f"{number}. {label}", text=text)
        for number, (label, text) in enumerate(steps, start=1)
    ]
    return _page("Order of work", "All figures are on the drawing and the cut list.", items, paper)


_FIND_A_PLACE = (
    "The place was not worked out. By rule of thumb: as far upstream of where the last large "
    "muffler begins as the page says, and a second branch as far again. Described in a car file, "
    "it is."
)
_LEAK_TEST = "Leak test"
_STEPS: tuple[tuple[str, str], ...] = (
    (
        "Check the print",
        "Measure all three rulers on a template. Wrap a strip of paper around the branch tube and "
        "around the pipe: their outsides must be those on the drawing, within 0.5 mm. If not, "
        "give the sizes you have to pipenote and print again.",
    ),
    (
        "Mark the place",
        "Car cold, on stands, battery disconnected. Measure along the middle of the pipe, from "
        "where the drawing says: the collector, where there is one pipe. Stay after the last "
        "catalyst, away from oxygen sensors, seams, hangers and bends. Hold a length of tube where "
        "the branch will lie: 25 mm (1 in) of air to everything "
        "that moves, burns or melts, also when the engine rocks.",
    ),
    (
        "Cut the pieces",
        "Cut the straight pieces and the bends as the cut list says, square and without burrs. "
        "Cut the first piece's saddle by its template, file it until its outside edge sits on the "
        "pipe with no gap that lets light through, and check it by the figures in the cut list.",
    ),
    (
        "Drill the pilot hole",
        "Tape the hole template to the pipe, centre-punch the cross through the paper, drill "
        "6 mm (1/4 in), or what the arbor of your hole saw takes, through the near wall only.",
    ),
    (
        "Guide the saw with a rod",
        "Take the pilot drill out of the arbor and put a plain steel rod of the same size in its "
        "place: the rod keeps the saw on centre and cannot pierce the far wall. Slow, with cutting "
        "oil. Catch the slug and take it out. Without a saw of the right size take the next "
        "smaller one and file to the template's line.",
    ),
    (
        "Clean the hole",
        "No burr and no edge may stick into the pipe, and the hole may not be smaller than the "
        "inside of the branch: a smaller hole tunes the branch lower. Take the swarf out of the "
        "pipe.",
    ),
    (
        "Tack",
        "Bright metal on both sides. Set the first piece on the hole, mark A on the line along "
        "the pipe, its inside over the hole, at the angle of the drawing. Three tacks; then the "
        "other pieces, tacked in the same plane.",
    ),
    (
        "Check",
        "Before the welds: outside length of the first piece as on the cut list; sum of all pieces "
        "along the middle; room around it with the car on its wheels; cap's highest point above "
        "its lowest, or the drain hole at the lowest point.",
    ),
    (
        "Weld",
        "All around, gas-tight, in short runs on opposite sides so that the pipe stays straight. "
        "Nothing may drip through to the inside. Support a branch longer than 0.5 m (20 in) near "
        "its end from the pipe itself, not from the body.",
    ),
    (
        "Drain",
        "Where water can collect, drill one hole of at most 3 mm (1/8 in) at the lowest point, "
        "away from the cabin, and not into a neighbour's line or tyre. A branch that points up "
        "needs none.",
    ),
    (
        "Set the cap",
        "Slide the sleeve to 'start here' in the cut list and clamp it, paste in the gap.",
    ),
    (
        _LEAK_TEST,
        "Engine off and cold. Close the tail pipe, blow in with a vacuum cleaner's blowing end "
        "(never shop air at full pressure), brush soapy water on every joint: bubbles are leaks. "
        "Then outdoors with the engine running: listen and feel near, not on, the joints. Have a "
        "carbon monoxide alarm in the cabin on the first drive.",
    ),
    (
        "Drive and compare",
        "Warm the car 15 minutes, log the same drive, compare it with the first: that says how "
        "far to pull the sleeve out or push it in. Where it cannot tell, move it by 10 mm "
        "(3/8 in), drive again, and keep the direction that helps. Let everything go cold before "
        "you touch it.",
    ),
    (
        "Fix the cap",
        "Only when a drive says that it works: mark the sleeve, take it off, clean, put it back on "
        "the mark and weld it. Leak test again. Paint bare weld with exhaust paint.",
    ),
)
_SECOND = (
    "Second branch",
    "The same again with its own sheets, turned to the other side of the pipe where the two are "
    "near, before you drive. Keep to the distance between the two on the drawing: two "
    "branches at one place cancel each other between their tunes.",
)


def _page(title: str, lead: str, items: Sequence[Item], paper: Paper) -> Sheet:
    """Items on one page, in the largest letters with which they fit."""
    free = free_area(paper, true_scale=False, landscape=False)
    size_pt = next(
        (
            pt
            for pt in _SIZES_PT
            if sum(_height(item, free.width, pt) for item in items) <= free.height
        ),
        _SIZES_PT[-1],
    )

    def draw(pen: Pen, area: Area) -> None:
        y = area.top - 1.0
        for item in items:
            pen.paragraph(area.left, y, _LABEL_MM - 2.0, item.label, size_pt, bold=True)
            x, width = area.left + _LABEL_MM, area.width - _LABEL_MM
            below = pen.paragraph(x, y, width, item.text, size_pt)
            if item.source:
                pen.paragraph(x, below, width, item.source, _SMALLER * size_pt)
            y -= _height(item, area.width, size_pt)

    return Sheet(title=title, about=lead, draw=draw)


def _height(item: Item, width: float, size_pt: float) -> float:
    label = _lines(item.label, _LABEL_MM - 2.0, size_pt, bold=True)
    text = _lines(item.text, width - _LABEL_MM, size_pt)
    if item.source:
        text += _lines(item.source, width - _LABEL_MM, _SMALLER * size_pt)
    return max(label, text) + _GAP_MM


def _lines(words: str, width: float, size_pt: float, *, bold: bool = False) -> float:
    """How high a wrapped text is."""
    return len(wrapped(words, width, size_pt, bold=bold)) * line_mm(size_pt)
