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
from analysis.words.shown import either

_EDGE_MM = 10.0  # printers reach no further
_HEAD_MM = 15.0
_FOOT_MM = 7.0
_RULER_FOOT_MM = 27.0
_RULER_SIDE_MM = 13.0
RULER_MM = 100.0
RULER_IN = 4
_NAME_MM = 5.0
_INCH_MM = 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """How it is divided: ``ticks`` gives how far out every so many of its steps reach."""

    long_mm: float
    step_mm: float
    ticks: tuple[tuple[int, float], ...]
    named: int  # so many steps have a figure
    named_as: int  # that grows by so much


_RULERS = {
    "mm": Ruler(
        long_mm=RULER_MM, step_mm=1.0, ticks=((10, 4.0), (5, 3.0), (1, 2.0)), named=20, named_as=20
    ),
    "in": Ruler(
        long_mm=RULER_IN * _INCH_MM,
        step_mm=_INCH_MM / 16.0,
        ticks=((16, 4.0), (8, 3.0), (4, 2.0), (1, 1.2)),
        named=16,
        named_as=1,
    ),
}


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
    """Draw rulers across and one up, because a printer may stretch one way only."""
    bottom = _EDGE_MM + 6.0
    pen.line(_EDGE_MM, bottom + 20.0, right, bottom + 20.0, FAINT)
    units = either("mm", "in", "mm in").split()
    with pen.moved(_EDGE_MM, bottom + 8.0):
        for unit, way in zip(units, (1.0, -1.0), strict=False):
            _ruler(pen, unit, out=(0.0, way))
            x = _RULERS[unit].long_mm + _NAME_MM
            pen.text(x, _NAME_MM if way > 0.0 else -_NAME_MM - 2.0, unit, 7.0)
    across = either("100 mm", "4 in", "100 mm and 4 in")
    x = _EDGE_MM + RULER_MM + 12.0
    pen.text(x, bottom + 12.5, "CHECK YOUR PRINTER FIRST", 9.0, bold=True)
    pen.text(x, bottom + 8.3, "Print at 100 % (actual size), never 'fit to page'.", 8.5)
    pen.text(x, bottom + 4.3, f"Lay a steel rule on every ruler: {across} across, and", 8.5)
    off = "0.5 mm (1/64 in) off: do not use it."
    pen.text(x, bottom + 0.3, f"{either('100 mm', '4 in', '100 mm')} up. More than {off}", 8.5)
    with pen.moved(right - 1.0, bottom + 26.0):
        _ruler(pen, units[0], out=(-1.0, 0.0))


def _ruler(pen: Pen, unit: str, *, out: tuple[float, float]) -> None:
    """Draw its edge and its ticks; those point ``out``, so it lies across, or stands."""
    ruler = _RULERS[unit]
    stands = out[0] != 0.0

    def at(along_mm: float, out_mm: float) -> tuple[float, float]:
        x, y = (0.0, along_mm) if stands else (along_mm, 0.0)
        return x + out_mm * out[0], y + out_mm * out[1]

    pen.path([at(0.0, 0.0), at(ruler.long_mm, 0.0)], THIN)
    for tick in range(round(ruler.long_mm / ruler.step_mm) + 1):
        along_mm = tick * ruler.step_mm
        long_mm = next(long_mm for every, long_mm in ruler.ticks if tick % every == 0)
        pen.path([at(along_mm, 0.0), at(along_mm, long_mm)], THIN)
        if tick % ruler.named == 0:
            x, y = at(along_mm, _NAME_MM)
            low = 0.9 if stands else 2.0 if out[1] < 0.0 else 0.0
            name = f"{tick // ruler.named * ruler.named_as}"
            pen.text(x, y - low, name, 7.0, align="end" if stands else "middle")
