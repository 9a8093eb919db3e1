"""Draw in millimetres, so that what is drawn is what is measured on paper.

Sizes are judgement: layout, which moves no answer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Circle, Drawing, Group, Path, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from analysis.basics.arrays import FloatArray
from analysis.words.front import here

Align = Literal["start", "middle", "end"]

_FONT, _BOLD = "Helvetica", "Helvetica-Bold"
_LEADING = 1.25
_PLAIN = str.maketrans({"−": "-", "″": '"', "′": "'", "≈": "~", "≤": "<=", "≥": ">="})
_ARROW_MM = (2.4, 0.8)
_BALLOON_MM = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn; ``grey`` 0 is black, ``dash_mm`` on and off lengths."""

    width_mm: float
    dash_mm: tuple[float, ...] = ()
    grey: float = 0.0


CUT = Stroke(width_mm=0.4)
FILE_BACK = Stroke(width_mm=0.25, dash_mm=(2.5, 1.2))
OUTLINE = Stroke(width_mm=0.35)
THIN = Stroke(width_mm=0.15)
FAINT = Stroke(width_mm=0.15, grey=0.55)
HIDDEN = Stroke(width_mm=0.2, dash_mm=(2.0, 1.0), grey=0.3)
CENTRE = Stroke(width_mm=0.15, dash_mm=(6.0, 1.2, 1.2, 1.2), grey=0.2)
DATUM = Stroke(width_mm=0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """Part of a page, in millimetres from its lower left corner."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From bottom to top."""
        return self.top - self.bottom


class Pen:
    """Lines, shapes and words in millimetres, y up; ``group`` holds them, in points."""

    def __init__(self) -> None:
        self.group = Group()

    def put_on(self, canvas: Canvas) -> None:
        """Print it on a PDF page, at true scale from the page's lower left corner."""
        page = Drawing(1.0, 1.0)  # the size says nothing: the page does not clip to it
        page.add(self.group)
        renderPDF.draw(page, canvas, 0.0, 0.0)

    @contextmanager
    def moved(self, x: float, y: float) -> Iterator[None]:
        """Put the origin at a point for a while."""
        with _within(self, Group(transform=(1.0, 0.0, 0.0, 1.0, x * mm, y * mm))):
            yield

    @contextmanager
    def clipped(self, area: Area) -> Iterator[None]:
        """Show only what lies within an area; on paper only."""
        edge = Path(isClipPath=1, strokeColor=None, fillColor=None)
        (x, y), *others = _corners(area)
        edge.moveTo(x * mm, y * mm)
        for x, y in others:
            edge.lineTo(x * mm, y * mm)
        edge.closePath()
        with _within(self, Group(edge)):
            yield

    def line(self, x1: float, y1: float, x2: float, y2: float, stroke: Stroke = THIN) -> None:
        """One straight line."""
        self.path([(x1, y1), (x2, y2)], stroke)

    def path(
        self,
        points_mm: FloatArray | Sequence[tuple[float, float]],
        stroke: Stroke | None = OUTLINE,
        *,
        closed: bool = False,
        fill_grey: float | None = None,
    ) -> None:
        """Line through points [shape=(n, 2)], perhaps closed and filled."""
        points = [float(value) * mm for point in points_mm for value in point]
        if closed:
            fill = None if fill_grey is None else _grey(fill_grey)
            self.group.add(Polygon(points, fillColor=fill, **_drawn(stroke)))
        else:
            self.group.add(PolyLine(points, **_drawn(stroke)))

    def box(
        self, area: Area, stroke: Stroke | None = THIN, *, fill_grey: float | None = None
    ) -> None:
        """Rectangle around an area, perhaps filled."""
        self.path(_corners(area), stroke, closed=True, fill_grey=fill_grey)

    def circle(self, x: float, y: float, radius: float, stroke: Stroke = THIN) -> None:
        """Circle, filled white so that what lies under it does not show."""
        self.group.add(Circle(x * mm, y * mm, radius * mm, fillColor=_grey(1.0), **_drawn(stroke)))

    def cross(self, x: float, y: float, reach: float, *, radius: float) -> None:
        """Mark a point: two thin lines across it, and a circle."""
        self.circle(x, y, radius)
        self.line(x - reach, y, x + reach, y)
        self.line(x, y - reach, x, y + reach)

    def balloon(self, x: float, y: float, number: int) -> None:
        """Put the number of a piece on it, in a circle."""
        self.circle(x, y, _BALLOON_MM)
        self.text(x, y - 1.3, f"{number}", 9.5, bold=True, align="middle")

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size_pt: float = 9.0,
        *,
        bold: bool = False,
        align: Align = "start",
        turned: float = 0.0,
        backed: bool = False,
    ) -> None:
        """One line of text; ``turned`` in degrees, ``backed`` puts white under it."""
        words, font = printable(words), _BOLD if bold else _FONT
        turn = math.radians(turned)
        cos, sin = math.cos(turn), math.sin(turn)
        line = Group(transform=(cos, sin, -sin, cos, x * mm, y * mm))
        if backed:
            width = stringWidth(words, font, size_pt)
            left = {"start": 0.0, "middle": -width / 2.0, "end": -width}[align] - 1.5
            ground = {"fillColor": _grey(1.0), "strokeColor": None}
            line.add(Rect(left, -0.3 * size_pt, width + 3.0, 1.25 * size_pt, **ground))
        line.add(String(0.0, 0.0, words, fontName=font, fontSize=size_pt, textAnchor=align))
        self.group.add(line)

    def paragraph(
        self,
        x: float,
        y: float,
        width: float,
        words: str,
        size_pt: float = 9.0,
        *,
        bold: bool = False,
    ) -> float:
        """Write wrapped text, its first line's top at ``y``; gives the y below its last line."""
        for line in wrapped(words, width, size_pt, bold=bold):
            y -= line_mm(size_pt)
            self.text(x, y + 0.3 * line_mm(size_pt), line, size_pt, bold=bold)
        return y

    def lines(
        self,
        x: float,
        y: float,
        lines: Iterable[str],
        size_pt: float = 8.0,
        *,
        step_mm: float = 3.5,
        align: Align = "start",
    ) -> None:
        """Short lines of text below each other, the first one at ``y``."""
        for number, words in enumerate(lines):
            self.text(x, y - step_mm * number, words, size_pt, align=align)

    def arrow(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """Thin line with a filled head at its second end."""
        self.line(x1, y1, x2, y2, THIN)
        _head(self, x1, y1, x2, y2)

    def dimension(
        self, x1: float, y1: float, x2: float, y2: float, words: str, size_pt: float = 8.0
    ) -> None:
        """Thin line with a head at each end and its measure in the middle."""
        self.arrow(x1, y1, x2, y2)
        _head(self, x2, y2, x1, y1)
        turned = math.degrees(math.atan2(y2 - y1, x2 - x1))
        # words are never upside down
        turned = turned - 180.0 if turned > 90.0 + 1e-6 else turned
        turned = turned + 180.0 if turned <= -90.0 + 1e-6 else turned
        middle = ((x1 + x2) / 2.0, (y1 + y2) / 2.0)
        down = 0.35 * size_pt / mm
        x = middle[0] + down * math.sin(math.radians(turned))
        y = middle[1] - down * math.cos(math.radians(turned))
        self.text(x, y, words, size_pt, align="middle", turned=turned, backed=True)


@contextmanager
def _within(pen: Pen, inner: Group) -> Iterator[None]:
    outer, pen.group = pen.group, inner
    outer.add(inner)
    yield
    pen.group = outer


@dataclass(frozen=True, slots=True, kw_only=True)
class ToScale:
    """Draws a thing in its own millimetres, 1 : ``one_to``; its zero is at ``origin`` on paper.

    Points are scaled one by one: a scaled group would make lines thinner and letters smaller too.
    """

    pen: Pen
    one_to: float
    origin: tuple[float, float] = (0.0, 0.0)

    def at(self, points_mm: FloatArray | Sequence[FloatArray]) -> FloatArray:
        """Where points of the thing lie on paper [shape=(n, 2), or (2,) for one]."""
        return np.asarray(np.asarray(points_mm) / self.one_to + self.origin)

    def path(self, points_mm: FloatArray | Sequence[FloatArray], stroke: Stroke) -> None:
        """Line through points."""
        self.pen.path(self.at(points_mm), stroke)

    def solid(self, corners_mm: FloatArray | Sequence[FloatArray], grey: float) -> None:
        """Steel that is cut through."""
        self.pen.path(self.at(corners_mm), THIN, closed=True, fill_grey=grey)


def _head(pen: Pen, x1: float, y1: float, x2: float, y2: float) -> None:
    """Fill the head of an arrow at the second point."""
    long, half = _ARROW_MM
    length = math.hypot(x2 - x1, y2 - y1)
    if length == 0.0:
        return
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    base_x, base_y = x2 - long * ux, y2 - long * uy
    aside = [(base_x - half * uy, base_y + half * ux), (base_x + half * uy, base_y - half * ux)]
    pen.path([(x2, y2), *aside], None, closed=True, fill_grey=0.0)


def _drawn(stroke: Stroke | None) -> dict[str, Any]:
    if stroke is None:
        return {"strokeColor": None}
    dash = [length * mm for length in stroke.dash_mm] or None
    width = stroke.width_mm * mm
    return {"strokeColor": _grey(stroke.grey), "strokeWidth": width, "strokeDashArray": dash}


def _grey(grey: float) -> Color:
    return Color(grey, grey, grey)


def _corners(area: Area) -> list[tuple[float, float]]:
    left, bottom, right, top = area.left, area.bottom, area.right, area.top
    return [(left, bottom), (right, bottom), (right, top), (left, top)]


def printable(words: str) -> str:
    """Say it as its reader is told it, in letters that every PDF reader has without a font."""
    return here(words).translate(_PLAIN).encode("cp1252", "replace").decode("cp1252")


def wrapped(words: str, width_mm: float, size_pt: float, *, bold: bool = False) -> list[str]:
    """Lines of a text, broken to a width."""
    font = _BOLD if bold else _FONT
    return list(simpleSplit(printable(words), font, size_pt, width_mm * mm))


def wide_mm(words: str, size_pt: float) -> float:
    """Width of one line of text."""
    return float(stringWidth(printable(words), _FONT, size_pt) / mm)


def line_mm(size_pt: float) -> float:
    """Distance of lines of text."""
    return float(_LEADING * size_pt / mm)
