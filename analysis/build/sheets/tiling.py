"""Spread a true-scale drawing over as many pages as it needs, to be glued edge on edge.

Neighbours overlap; in the overlap both carry the same register marks and the line to glue to.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Callable
from dataclasses import dataclass

from analysis.build.drawing.pen import FAINT, HIDDEN, Area, Pen
from analysis.build.sheets.book import Paper, Sheet, free_area

# judgement: room for glue and marks; moves no answer.
OVERLAP_MM = 12.0
_MARK_MM = 3.0
_FLAT_SPARE_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueScale:
    """A drawing in its own millimetres: what it covers, and how it is drawn there."""

    extent: Area
    draw: Callable[[Pen], None]


def true_scale_sheets(
    drawing: TrueScale, paper: Paper, *, title: str, about: str, how: tuple[str, ...]
) -> list[Sheet]:
    """One page, or several with overlaps; ``how`` is a few lines that stand on every one."""
    how_mm = 4.2 * len(how) + 1.5
    free = free_area(paper, true_scale=True, landscape=True)
    place = Area(left=free.left, bottom=free.bottom + 1.0, right=free.right, top=free.top - how_mm)
    rows = _count(drawing.extent.height, place.height)
    columns = _count(drawing.extent.width, place.width)

    def sheet(row: int, column: int) -> Sheet:
        several, count = rows * columns > 1, row * columns + column + 1
        part = f", part {count} of {rows * columns}" if several else ""

        def draw(pen: Pen, _: Area) -> None:
            for index, words in enumerate(how):
                pen.text(free.left, free.top - 4.2 * index - 2.5, words, 8.5)
            _draw_tile(pen, drawing, place, row, column, last=(rows - 1, columns - 1))

        return Sheet(
            title=f"{title}{part}", about=about, draw=draw, true_scale=True, landscape=True
        )

    return [sheet(row, column) for row in range(rows) for column in range(columns)]


def _count(whole: float, part: float) -> int:
    if whole <= part + _FLAT_SPARE_MM:
        return 1
    return math.ceil((whole - OVERLAP_MM) / (part - OVERLAP_MM))


def _draw_tile(
    pen: Pen, drawing: TrueScale, place: Area, row: int, column: int, *, last: tuple[int, int]
) -> None:
    """Draw one page's part; rows count from the bottom, ``last`` is the last row and column."""
    left = drawing.extent.left + column * (place.width - OVERLAP_MM)
    bottom = drawing.extent.bottom + row * (place.height - OVERLAP_MM)
    window = Area(
        left=left,
        bottom=bottom,
        right=min(left + place.width, drawing.extent.right),
        top=min(bottom + place.height, drawing.extent.top),
    )
    x = place.left + (place.width - window.width) / 2.0 - window.left
    y = place.bottom + (place.height - window.height) / 2.0 - window.bottom
    with pen.moved(x, y):
        with pen.clipped(window):
            drawing.draw(pen)
        if last != (0, 0):
            pen.box(window, FAINT)
        for upright, number, end, low, high in (
            (True, column, last[1], window.left, window.right),
            (False, row, last[0], window.bottom, window.top),
        ):
            if number > 0:
                _seam(pen, window, low + OVERLAP_MM / 2.0, upright=upright, name=number)
            if number < end:
                _seam(pen, window, high - OVERLAP_MM / 2.0, upright=upright, name=number + 1)


def _seam(pen: Pen, window: Area, at: float, *, upright: bool, name: int) -> None:
    """Line to cut one page along and glue it to on the other, with a register mark at each end."""
    low, high = (window.bottom, window.top) if upright else (window.left, window.right)
    letter = ("V" if upright else "H") + f"{name}"
    if upright:
        pen.line(at, low, at, high, HIDDEN)
    else:
        pen.line(low, at, high, at, HIDDEN)
    for end, word in ((low + 2.0 * _MARK_MM, "a"), (high - 2.0 * _MARK_MM, "b")):
        x, y = (at, end) if upright else (end, at)
        pen.cross(x, y, _MARK_MM, radius=_MARK_MM / 2.0)
        pen.text(x + 0.6 * _MARK_MM, y + 0.5 * _MARK_MM, letter + word, 6.5, backed=True)
