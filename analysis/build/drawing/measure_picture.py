"""An exhaust from the collector to the tail, with the places to measure and blanks to fill in.

Sizes are judgement: layout, which moves no answer. It is no car's exhaust, and not to scale.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.build.drawing.pen import CENTRE, FAINT, OUTLINE, THIN, Area, Pen

HEIGHT_MM = 74.0
_PIPE = 3.5  # half of its width
_AXLE = 9.0  # how far the last pipe rises
# piece, from, to, half width; the last one rises over the axle
_PIECES = (
    (1, 24.0, 52.0, _PIPE),
    (2, 52.0, 72.0, 7.5),
    (3, 72.0, 104.0, _PIPE),
    (4, 104.0, 134.0, 11.0),
)
_TAIL = (5, 134.0, 182.0)
_SENSORS = (46.0, 78.0)
_BLANK = 13.0
_SIZE_PT = 8.0


def draw_where_to_measure(pen: Pen, area: Area) -> None:
    """Draw it at the top of an area, of which it takes ``HEIGHT_MM``."""
    with pen.moved(area.left, area.top - 34.0):
        _collector(pen)
        for number, start, end, half in _PIECES:
            pen.box(Area(left=start, bottom=-half, right=end, top=half), OUTLINE)
            _measured(pen, number, start, end, 0.0)
        _over_the_axle(pen)
        for x in _SENSORS:
            pen.box(Area(left=x - 1.0, bottom=_PIPE, right=x + 1.0, top=_PIPE + 4.5), THIN)
        pen.text(50.0, 15.0, "oxygen sensors", _SIZE_PT, align="middle")
        pen.line(56.0, 14.0, _SENSORS[0] + 0.5, _PIPE + 5.0, FAINT)
        pen.line(58.0, 14.0, _SENSORS[1] - 0.5, _PIPE + 5.0, FAINT)
        pen.text(62.0, -11.0, "catalyst", _SIZE_PT, align="middle")
        pen.text(119.0, -14.5, "muffler: its shell", _SIZE_PT, align="middle")
        _width(pen)


def _collector(pen: Pen) -> None:
    """Draw the cylinders' pipes that meet, where measuring begins."""
    for y in (9.0, 3.0, -3.0, -9.0):
        pen.path([(2.0, y + 1.2), (12.0, y + 1.2), (24.0, min(y, 2.3) + 1.2)], THIN)
        pen.path([(2.0, y - 1.2), (12.0, y - 1.2), (24.0, max(y, -2.3) - 1.2)], THIN)
    pen.line(24.0, 22.0, 24.0, -24.0, CENTRE)
    pen.text(2.0, 27.5, "BEGIN HERE: the collector,", _SIZE_PT, bold=True)
    pen.text(2.0, 24.0, "where the cylinders' pipes meet", _SIZE_PT)


def _over_the_axle(pen: Pen) -> None:
    number, start, end = _TAIL
    middle = [(start, 0.0), (144.0, 0.0), (152.0, _AXLE), (166.0, _AXLE), (174.0, 0.0), (end, 0.0)]
    pen.path(middle, CENTRE)
    for half in (_PIPE, -_PIPE):
        pen.path([(x, y + half) for x, y in middle], OUTLINE)
    pen.line(end, _PIPE, end, -_PIPE, OUTLINE)
    pen.circle(159.0, -1.0, 3.5)
    pen.text(159.0, -8.0, "axle", _SIZE_PT, align="middle")
    pen.text(end, 15.0, "the tail", _SIZE_PT, bold=True, align="end")
    pen.text(end, 19.0, "around a bend: along its middle, by a string", _SIZE_PT, align="end")
    _measured(pen, number, start, end, _AXLE)


def _measured(pen: Pen, number: int, start: float, end: float, at_y: float) -> None:
    """Draw a piece's number, its length and the blank for it."""
    low = -20.0
    for x in (start, end):
        pen.line(x, -4.0, x, low - 2.0, FAINT)
    pen.dimension(start, low, end, low, "")
    middle = (start + end) / 2.0
    pen.balloon(middle, at_y, number)
    pen.line(middle - _BLANK / 2.0, low - 7.0, middle + _BLANK / 2.0, low - 7.0, THIN)
    pen.text(middle, low - 11.0, "how long", 7.0, align="middle")


def _width(pen: Pen) -> None:
    """Show what 'how wide inside' means: at a cut end, or from the outside."""
    x, y = 88.0, 24.0
    pen.circle(x, y, 7.0, OUTLINE)
    pen.circle(x, y, 5.6, OUTLINE)
    pen.dimension(x - 5.6, y, x + 5.6, y, "")
    pen.text(x + 10.0, y + 2.5, "how wide inside: the outside, less twice the wall;", _SIZE_PT)
    pen.text(x + 10.0, y - 1.2, "of a muffler, chamber or catalyst: its shell's outside", _SIZE_PT)
