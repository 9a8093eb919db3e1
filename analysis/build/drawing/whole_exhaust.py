"""The whole exhaust from the collector to the tail, to scale along and across.

Sizes are judgement: layout, which moves no answer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.build.drawing.pen import CENTRE, FAINT, OUTLINE, THIN, Align, Area, Pen
from analysis.build.drawing.svg import svg_file
from analysis.describe.stretches import Course, Stretch
from analysis.words.lengths import diameter, length, told_length

_WIDE_MM, _EDGE_MM = 190.0, 10.0
_TITLE_PT, _WORDS_PT, _SMALL_PT = 11.0, 9.0, 8.0
_TITLE_MM, _LINE_MM, _GAP_MM = 8.0, 4.6, 7.0
_NUMBER_MM = 5.0  # above a piece, for its number
_TOTALS_MM, _ROOM_MM = 14.0, 7.0
_TICK_MM = 1.2
_LABEL_MM = 31.0  # room that one total takes along the pipe, in both units
_STEEL, _ROOM_GREY = 0.86, 0.6


def exhaust_svg(courses: Sequence[Course], title: str) -> str:
    """Draw every pipe below the other, all to one scale, as the text of an SVG file."""
    longest_m = max(course.length_m for course in courses)
    per_m = (_WIDE_MM - 2.0 * _EDGE_MM) / longest_m
    high = _TITLE_MM + sum(_height_mm(course, per_m) for course in courses) + _EDGE_MM
    area = Area(left=0.0, bottom=0.0, right=_WIDE_MM, top=high)
    pen = Pen()
    y = area.top - _TITLE_MM
    pen.text(_EDGE_MM, y, title, _TITLE_PT, bold=True)
    scale = (
        f"1 : {1000.0 / per_m:.0f} on paper {told_length(1e-3 * _WIDE_MM)} wide, along and across"
    )
    pen.text(area.right - _EDGE_MM, y, scale, _SMALL_PT, align="end")
    for course in courses:
        _draw(pen, course, y, per_m)
        y -= _height_mm(course, per_m)
    return svg_file(pen.group, area, f"{title}: {_in_words(courses)}")


def _draw(pen: Pen, course: Course, top: float, per_m: float) -> None:
    """Draw one pipe below ``top``: title, pieces, room, totals, and the list of its pieces."""
    y = top - _GAP_MM
    pen.text(_EDGE_MM, y, course.title, _WORDS_PT, bold=True)
    half = 0.5 * per_m * _widest_m(course)
    axis = y - _NUMBER_MM - half
    for each in course.stretches:
        left, right = (_EDGE_MM + per_m * m for m in (each.start_m, each.end_m))
        own = 0.5 * per_m * each.section.inner_diameter_m
        piece = Area(left=left, bottom=axis - own, right=right, top=axis + own)
        pen.box(piece, OUTLINE, fill_grey=_STEEL)
        middle, above = (left + right) / 2.0, axis + half + 1.2
        pen.text(middle, above, str(each.number), _SMALL_PT, align="middle")
    end = _EDGE_MM + per_m * course.length_m
    pen.line(_EDGE_MM - 3.0, axis, end + 3.0, axis, CENTRE)
    for at_m, kind in course.joined_m:
        x = _EDGE_MM + per_m * at_m
        pen.line(x, axis + half + 4.5, x, axis - half - 1.0, THIN)
        pen.text(x + 1.0, axis + half + 2.5, kind, _SMALL_PT)
    y = axis - half
    if course.places_m:
        y -= _ROOM_MM
        _draw_room(pen, course, y, per_m)
    y -= _TOTALS_MM
    _draw_totals(pen, course, axis - half, y + 2.0, per_m)
    for each in course.stretches:
        y -= _LINE_MM
        pen.text(_EDGE_MM, y, _line_of(each), _WORDS_PT)


def _draw_room(pen: Pen, course: Course, y: float, per_m: float) -> None:
    for start_m, end_m in course.places_m:
        left, right = (_EDGE_MM + per_m * m for m in (start_m, end_m))
        room = Area(left=left, bottom=y, right=right, top=y + 2.4)
        pen.box(room, THIN, fill_grey=_ROOM_GREY)
        words = f"room, {told_length(start_m)} to {told_length(end_m)}"
        pen.text((left + right) / 2.0, y + 3.4, words, _SMALL_PT, align="middle")


def _draw_totals(pen: Pen, course: Course, top: float, y: float, per_m: float) -> None:
    """Set the running total below each joint; one too close to the one before it goes lower."""
    pen.line(_EDGE_MM, y + 6.0, _EDGE_MM + per_m * course.length_m, y + 6.0, THIN)
    free = [-_LABEL_MM, -_LABEL_MM]  # middle of the last word of each row
    for at_m in (0.0, *(each.end_m for each in course.stretches)):
        x = _EDGE_MM + per_m * at_m
        pen.line(x, top, x, y + 6.0 - _TICK_MM, FAINT)
        align: Align = "middle"
        middle = x
        if at_m == 0.0 or x > _WIDE_MM - _LABEL_MM:
            align = "start" if at_m == 0.0 else "end"
            middle += 0.5 * _LABEL_MM if at_m == 0.0 else -0.5 * _LABEL_MM
        row = 0 if middle - free[0] >= _LABEL_MM else 1
        free[row] = middle
        words = "0" if at_m == 0.0 else length(at_m)
        pen.text(x, y + 2.0 - 3.4 * row, words, _SMALL_PT, align=align)


def _line_of(each: Stretch) -> str:
    return (
        f"{each.number}  {each.name}, {length(each.section.length_m)} long, "
        f"{diameter(each.section.inner_diameter_m)} inside"
    )


def _widest_m(course: Course) -> float:
    return max(each.section.inner_diameter_m for each in course.stretches)


def _height_mm(course: Course, per_m: float) -> float:
    room = _ROOM_MM if course.places_m else 0.0
    lines = _LINE_MM * len(course.stretches)
    return _GAP_MM + _NUMBER_MM + per_m * _widest_m(course) + room + _TOTALS_MM + lines + _GAP_MM


def _in_words(courses: Sequence[Course]) -> str:
    """Say what the picture shows, to be read aloud."""
    return "; ".join(
        f"{course.title}: {', '.join(_line_of(each) for each in course.stretches)}"
        for course in courses
    )
