"""Put sheets into one PDF: paper, frame, page numbers, and rulers on those at true scale.

Sizes are judgement: layout, which moves no answer; those of paper are of ISO 216 and ANSI Y14.1.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from analysis.build.drawing.pen import FAINT, OUTLINE, THIN, Area, Pen

_EDGE_MM = 10.0  # printers reach no further
_HEAD_MM = 15.0
_FOOT_MM = 7.0
_RULER_FOOT_MM = 27.0
_RULER_SIDE_MM = 13.0
RULER_MM = 100.0
RULER_IN = 4
_INCH_MM = 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """Paper in the printer, upright, in millimetres."""

    name: str
    width: float
    height: float

    def lying(self, *, landscape: bool) -> tuple[float, float]:
        """Width and height as it lies before the reader."""
        return (self.height, self.width) if landscape else (self.width, self.height)


PAPERS = {
    "a4": Paper(name="A4", width=210.0, height=297.0),
    "letter": Paper(name="Letter", width=215.9, height=279.4),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page; ``draw`` gets the area that frame, title and rulers leave."""

    title: str
    about: str
    draw: Callable[[Pen, Area], None]
    true_scale: bool = False
    landscape: bool = False


def free_area(paper: Paper, *, true_scale: bool, landscape: bool) -> Area:
    """Give what the frame leaves of a page."""
    width, height = paper.lying(landscape=landscape)
    return Area(
        left=_EDGE_MM,
        bottom=_EDGE_MM + (_RULER_FOOT_MM if true_scale else _FOOT_MM),
        right=width - _EDGE_MM - (_RULER_SIDE_MM if true_scale else 0.0),
        top=height - _EDGE_MM - _HEAD_MM,
    )


def make_pdf(sheets: Sequence[Sheet], paper: Paper, *, title: str, foot: str) -> bytes:
    """All sheets as one PDF; viewers are asked to print without scaling."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(paper.width * mm, paper.height * mm), pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("pipenote")
    canvas.setViewerPreference("PrintScaling", "None")
    for number, sheet in enumerate(sheets, start=1):
        width, height = paper.lying(landscape=sheet.landscape)
        canvas.setPageSize((width * mm, height * mm))
        pen = Pen()
        _frame(pen, sheet, width, height, f"{foot} · sheet {number} of {len(sheets)}")
        sheet.draw(pen, free_area(paper, true_scale=sheet.true_scale, landscape=sheet.landscape))
        pen.put_on(canvas)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _frame(pen: Pen, sheet: Sheet, width: float, height: float, foot: str) -> None:
    right, top = width - _EDGE_MM, height - _EDGE_MM
    pen.text(_EDGE_MM, top - 5.0, sheet.title, 14.0, bold=True)
    pen.text(_EDGE_MM, top - 10.5, sheet.about, 9.0)
    pen.line(_EDGE_MM, top - 12.5, right, top - 12.5, OUTLINE)
    pen.text(right, _EDGE_MM, foot, 7.5, align="end")
    if sheet.true_scale:
        _rulers(pen, right)
    else:
        pen.line(_EDGE_MM, _EDGE_MM + 4.0, right, _EDGE_MM + 4.0, FAINT)


def _rulers(pen: Pen, right: float) -> None:
    """Draw a ruler across and one up, because a printer may stretch one way only."""
    bottom = _EDGE_MM + 6.0
    pen.line(_EDGE_MM, bottom + 20.0, right, bottom + 20.0, FAINT)
    with pen.moved(_EDGE_MM, bottom + 8.0):
        _metric_ruler(pen, upright=False)
        pen.text(RULER_MM + 4.0, 5.0, "mm", 7.0)
        _inch_ruler(pen)
    x = _EDGE_MM + RULER_MM + 12.0
    pen.text(x, bottom + 12.5, "CHECK YOUR PRINTER FIRST", 9.0, bold=True)
    pen.text(x, bottom + 8.3, "Print at 100 % (actual size), never 'fit to page'.", 8.5)
    pen.text(x, bottom + 4.3, "Lay a steel rule on all three rulers: 100 mm, 4 in, and", 8.5)
    pen.text(x, bottom + 0.3, "100 mm upright. More than 0.5 mm off: do not use it.", 8.5)
    with pen.moved(right - 1.0, bottom + 26.0):
        _metric_ruler(pen, upright=True)


def _metric_ruler(pen: Pen, *, upright: bool) -> None:
    """Draw its edge, and ticks that point up; of an upright one to the left."""
    pen.line(0.0, 0.0, *((0.0, RULER_MM) if upright else (RULER_MM, 0.0)), THIN)
    for tick in range(int(RULER_MM) + 1):
        out = 4.0 if tick % 10 == 0 else 3.0 if tick % 5 == 0 else 2.0
        pen.path([(0.0, tick), (-out, tick)] if upright else [(tick, 0.0), (tick, out)], THIN)
        if tick % 20 == 0 and upright:
            pen.text(-5.0, tick - 0.9, f"{tick}", 7.0, align="end")
        elif tick % 20 == 0:
            pen.text(tick, 5.0, f"{tick}", 7.0, align="middle")


def _inch_ruler(pen: Pen) -> None:
    pen.line(0.0, -1.5, RULER_IN * _INCH_MM, -1.5, THIN)
    for tick in range(16 * RULER_IN + 1):
        x = tick * _INCH_MM / 16.0
        length = 4.0 if tick % 16 == 0 else 3.0 if tick % 8 == 0 else 2.0 if tick % 4 == 0 else 1.2
        pen.line(x, -1.5, x, -1.5 - length, THIN)
        if tick % 16 == 0:
            pen.text(x, -8.2, f"{tick // 16}", 7.0, align="middle")
    pen.text(RULER_MM + 5.0, -8.2, "in", 7.0)
