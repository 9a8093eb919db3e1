"""Draw on a PDF page in millimetres, so that what is drawn is what is measured on paper."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal

from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from analysis.basics.arrays import FloatArray

Align = Literal["left", "middle", "right"]

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
    """Lines, shapes and words on one page; y runs up."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas

    @contextmanager
    def moved(self, x: float, y: float) -> Iterator[None]:
        """Put the origin at a point for a while."""
        self._canvas.saveState()
        self._canvas.translate(x * mm, y * mm)
        yield
        self._canvas.restoreState()

    @contextmanager
    def clipped(self, area: Area) -> Iterator[None]:
        """Show only what lies within an area."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        path.rect(area.left * mm, area.bottom * mm, area.width * mm, area.height * mm)
        self._canvas.clipPath(path, stroke=0, fill=0)
        yield
        self._canvas.restoreState()

    def line(self, x1: float, y1: float, x2: float, y2: float, stroke: Stroke = THIN) -> None:
        """One straight line."""
        self._set(stroke)
        self._canvas.line(x1 * mm, y1 * mm, x2 * mm, y2 * mm)

    def path(
        self,
        points_mm: FloatArray | Sequence[tuple[float, float]],
        stroke: Stroke | None = OUTLINE,
        *,
        closed: bool = False,
        fill_grey: float | None = None,
    ) -> None:
        """Line through points [shape=(n, 2)], perhaps closed and filled."""
        if stroke is not None:
            self._set(stroke)
        path = self._canvas.beginPath()
        for index, (x, y) in enumerate(points_mm):
            (path.lineTo if index else path.moveTo)(float(x) * mm, float(y) * mm)
        if closed:
            path.close()
        if fill_grey is not None:
            self._canvas.setFillGray(fill_grey)
        self._canvas.drawPath(path, stroke=stroke is not None, fill=fill_grey is not None)

    def box(self, area: Area, stroke: Stroke | None = THIN, fill_grey: float | None = None) -> None:
        """Rectangle around an area."""
        corners = [
            (area.left, area.bottom),
            (area.right, area.bottom),
            (area.right, area.top),
            (area.left, area.top),
        ]
        self.path(corners, stroke, closed=True, fill_grey=fill_grey)

    def circle(self, x: float, y: float, radius: float, stroke: Stroke = THIN) -> None:
        """Circle, filled white so that what lies under it does not show."""
        self._set(stroke)
        self._canvas.setFillGray(1.0)
        self._canvas.circle(x * mm, y * mm, radius * mm, stroke=1, fill=1)

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
        align: Align = "left",
        turned: float = 0.0,
        backed: bool = False,
    ) -> None:
        """One line of text; ``turned`` in degrees, ``backed`` puts white under it."""
        words, font = printable(words), _BOLD if bold else _FONT
        width = stringWidth(words, font, size_pt)
        start = {"left": 0.0, "middle": -width / 2.0, "right": -width}[align]
        self._canvas.saveState()
        self._canvas.translate(x * mm, y * mm)
        self._canvas.rotate(turned)
        if backed:
            self._canvas.setFillGray(1.0)
            self._canvas.rect(start - 1.5, -0.3 * size_pt, width + 3.0, 1.25 * size_pt, 0, 1)
        self._canvas.setFillGray(0.0)
        self._canvas.setFont(font, size_pt)
        self._canvas.drawString(start, 0.0, words)
        self._canvas.restoreState()

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

    def arrow(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """Thin line with a filled head at its second end."""
        self.line(x1, y1, x2, y2, THIN)
        self._head(x1, y1, x2, y2)

    def dimension(
        self, x1: float, y1: float, x2: float, y2: float, words: str, size_pt: float = 8.0
    ) -> None:
        """Thin line with a head at each end and its measure in the middle."""
        self.arrow(x1, y1, x2, y2)
        self._head(x2, y2, x1, y1)
        turned = math.degrees(math.atan2(y2 - y1, x2 - x1))
        turned = turned - 180.0 if turned > 90.0 + 1e-6 else turned
        turned = turned + 180.0 if turned <= -90.0 + 1e-6 else turned
        middle = ((x1 + x2) / 2.0, (y1 + y2) / 2.0)
        down = 0.35 * size_pt / mm
        x = middle[0] + down * math.sin(math.radians(turned))
        y = middle[1] - down * math.cos(math.radians(turned))
        self.text(x, y, words, size_pt, align="middle", turned=turned, backed=True)

    def _head(self, x1: float, y1: float, x2: float, y2: float) -> None:
        long, half = _ARROW_MM
        length = math.hypot(x2 - x1, y2 - y1)
        if length == 0.0:
            return
        ux, uy = (x2 - x1) / length, (y2 - y1) / length
        base_x, base_y = x2 - long * ux, y2 - long * uy
        points = [(x2, y2), (base_x - half * uy, base_y + half * ux)]
        points.append((base_x + half * uy, base_y - half * ux))
        self.path(points, None, closed=True, fill_grey=0.0)

    def _set(self, stroke: Stroke) -> None:
        self._canvas.setLineWidth(stroke.width_mm * mm)
        self._canvas.setDash([length * mm for length in stroke.dash_mm])
        self._canvas.setStrokeGray(stroke.grey)


def printable(words: str) -> str:
    """Keep to the letters that every PDF reader has without an embedded font."""
    return words.translate(_PLAIN).encode("cp1252", "replace").decode("cp1252")


def wrapped(words: str, width_mm: float, size_pt: float, *, bold: bool = False) -> list[str]:
    """Lines of a text broken to a width."""
    lines: list[str] = simpleSplit(
        printable(words), _BOLD if bold else _FONT, size_pt, width_mm * mm
    )
    return lines


def line_mm(size_pt: float) -> float:
    """Distance of lines of text."""
    return float(_LEADING * size_pt / mm)


def text_width_mm(words: str, size_pt: float, *, bold: bool = False) -> float:
    """Width of one line of text."""
    return float(stringWidth(printable(words), _BOLD if bold else _FONT, size_pt) / mm)
