"""Pages of text: cautions first, then the order of work, whose words are ``order_of_work.j2``."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Sequence
from typing import NamedTuple

from jinja2 import Template

from analysis.basics.own_files import one_line, own_text
from analysis.build.drawing.pen import Area, Pen, line_mm, wrapped
from analysis.build.sheets.book import Paper, Sheet, free_area
from analysis.build.workshop.plan import BuildPlan
from analysis.words.cautions import CAUTIONS, DEFER
from analysis.words.places import TELL_THE_ROOM

# judgement: layout, moves no answer.
_SIZES_PT = (10.0, 9.5, 9.0, 8.5)  # the largest with which a text fits on its page
_SMALLER = 0.8  # times that, for sources
_GAP_MM = 2.2
_LABEL_MM = 38.0


class Item(NamedTuple):
    """One entry: what it is called, what to do, and on whose word (perhaps empty)."""

    label: str
    text: str
    source: str = ""


def caution_sheet(paper: Paper, fit: str | None) -> Sheet:
    """List what can hurt, and whose rule says so; first of all ``fit``, where room was assumed."""
    items = [Item("Who decides", DEFER), *(Item(*caution) for caution in CAUTIONS)]
    if fit is not None:
        text = f"{fit}. For other bends, or none, {TELL_THE_ROOM}."
        items.insert(0, Item("Does it fit?", text))
    return _page("Before you start: cautions", "Read all of it once.", items, paper)


def work_sheet(build: BuildPlan, paper: Paper) -> Sheet:
    """Tell how to build, in order; no more than what this plan asks for."""
    source = own_text("analysis.build.sheets", "order_of_work.j2")
    template = Template(source, trim_blocks=True, lstrip_blocks=True)
    cans = [plan.can is not None for plan in build.branches]
    text = template.render(
        several=len(build.branches) > 1,
        placed=all(plan.branch.position_m is not None for plan in build.branches),
        can=any(cans),
        all_cans=all(cans),
        slides=any(plan.cap is not None for plan in build.branches),
        on_legs=any(plan.branch.legs for plan in build.branches),
    )
    steps = (one_line(step).split(": ", 1) for step in re.split(r"\n{2,}", text.strip()))
    items = [Item(f"{number}. {label}", said) for number, (label, said) in enumerate(steps, 1)]
    return _page("Order of work", "All figures are on the drawing and the cut list.", items, paper)


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
