"""The exhaust, or each pipe of it that gets a branch, with its branches, to scale, for one look.

Sizes are judgement: layout, which moves no answer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Self

from analysis.branches import Branch, LinePicture, Sizing
from analysis.build.drawing.pen import CENTRE, OUTLINE, THIN, Align, Area, Pen
from analysis.build.drawing.svg import as_svg
from analysis.words.lengths import length
from analysis.words.places import measured_from
from analysis.words.sentences import listed

# narrow, so that its words can be read on a phone: 9 pt of 326 pt across
_WIDE_MM, _EDGE_MM = 115.0, 4.0
_WORDS_PT = 9.0
_BALLOON_MM, _FIRST_MM, _STEP_MM = 9.0, 7.0, 6.5
_RISE_BORES = 2.0  # a bend of 1.5 times the tube's outside and a little to weld
_STEEL, _BRANCH_GREY = 0.86, 0.62


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """One pipe with its branches, and what it shows in words."""

    pen: Pen
    area: Area
    label: str


def sketches(sizing: Sizing) -> tuple[str, ...]:
    """Draw each pipe that gets a branch, as SVG; none where sections, or a place, are unknown."""
    return tuple(as_svg(each.pen.group, each.area, each.label) for each in drawn_sketches(sizing))


def drawn_sketches(sizing: Sizing) -> tuple[Sketch, ...]:
    """Draw them, for a page or a sheet."""
    if sizing.line is None or any(branch.position_m is None for branch in sizing.branches):
        return ()
    return tuple(_sketch(sizing, line) for line in (sizing.line, *sizing.other_lines))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """A branch as it lies beside its pipe: plain tube bent along it, a can square to it.

    One on each side, so that two near each other do not meet. Lengths along the middle are true.
    """

    branch: Branch
    foot_m: float  # the pipe's wall, from its middle
    is_above: bool
    way: int  # 1 towards the outlet

    @classmethod
    def of(cls, branch: Branch, pipe_m: float, long_m: float, *, is_above: bool) -> Self:
        """Lay it towards the outlet where the pipe is long enough for it."""
        fits = (branch.position_m or 0.0) + branch.length_m <= long_m
        return cls(branch=branch, foot_m=0.5 * pipe_m, is_above=is_above, way=1 if fits else -1)

    @property
    def _rise_m(self) -> float:
        """From the pipe's wall to the middle of the stretch along the pipe."""
        return min(_RISE_BORES * self.branch.tube.outer_diameter_m, self.branch.length_m)

    @property
    def out_m(self) -> float:
        """How far it reaches from the pipe's middle."""
        if self.branch.can is not None:
            return self.foot_m + self.branch.length_m
        return self.foot_m + self._rise_m + 0.5 * self.branch.tube.outer_diameter_m

    @property
    def middle_m(self) -> float:
        """Where along the pipe its number stands."""
        at_m = self.branch.position_m or 0.0
        if self.branch.can is not None:
            return at_m
        return at_m + 0.5 * self.way * (self.branch.length_m - self._rise_m)

    def boxes_m(self) -> Iterator[list[tuple[float, float]]]:
        """Corners of each straight stretch."""
        side, at_m = (1.0 if self.is_above else -1.0), self.branch.position_m or 0.0
        half_m = 0.5 * self.branch.tube.outer_diameter_m
        if self.branch.can is not None:
            for start_m, end_m, bore_m in _parts(self.branch):
                low, high = side * (self.foot_m + start_m), side * (self.foot_m + end_m)
                yield _corners(at_m - 0.5 * bore_m, low, at_m + 0.5 * bore_m, high)
            return
        level = self.foot_m + self._rise_m
        end_m = at_m + self.way * (self.branch.length_m - self._rise_m)
        yield _corners(at_m - half_m, side * self.foot_m, at_m + half_m, side * level)
        back_m = at_m - self.way * half_m
        yield _corners(back_m, side * (level - half_m), end_m, side * (level + half_m))


def _corners(left: float, low: float, right: float, high: float) -> list[tuple[float, float]]:
    return [(left, low), (right, low), (right, high), (left, high)]


def _sketch(sizing: Sizing, line: LinePicture) -> Sketch:
    numbered = [
        (number, branch)
        for number, branch in enumerate(sizing.branches, start=1)
        if branch.legs == line.legs
    ]
    branches = [branch for _, branch in numbered]
    bore_m = branches[0].pipe_inner_diameter_m or sizing.pipe_inner_diameter_m
    long_m = line.sections[-1].start_m + line.sections[-1].length_m
    per_m = (_WIDE_MM - 2.0 * _EDGE_MM) / long_m
    half = 0.5 * per_m * max(section.inner_diameter_m for section in line.sections)
    laid = [
        _Laid.of(branch, bore_m, long_m, is_above=not row % 2)
        for row, (_, branch) in enumerate(numbered)
    ]
    up = max((per_m * each.out_m for each in laid if each.is_above), default=half)
    low = max((per_m * each.out_m for each in laid if not each.is_above), default=half)
    low = max(low + _BALLOON_MM if len(laid) > 1 else low, half)
    down = low + _FIRST_MM + _STEP_MM * (len(branches) + len(line.crossings) + 0.7)
    area = Area(left=0.0, bottom=-down, right=_WIDE_MM, top=max(up, half) + _BALLOON_MM)
    pen = Pen()
    _draw_pipe(pen, line, per_m)
    start, end = _ends(line)
    pen.text(_EDGE_MM, 1.5 - down, start, _WORDS_PT)
    pen.text(_WIDE_MM - _EDGE_MM, 1.5 - down, end, _WORDS_PT, align="end")
    for each in laid:
        for corners_m in each.boxes_m():
            corners = [(_EDGE_MM + per_m * x_m, per_m * y_m) for x_m, y_m in corners_m]
            pen.path(corners, OUTLINE, closed=True, fill_grey=_BRANCH_GREY)
    for at_m, _ in line.crossings:
        _crossing(pen, _EDGE_MM + per_m * at_m, per_m * bore_m)
    marks = {(branch.position_m or 0.0, "") for branch in branches}
    marks |= {(at_m, f"{what} at ") for at_m, what in line.crossings}
    # the farthest first, so that no line runs through the words of another
    for row, (place_m, what) in enumerate(sorted(marks, reverse=True)):
        x, y = _EDGE_MM + per_m * place_m, -low - _FIRST_MM - _STEP_MM * row
        pen.line(x, -0.5 * per_m * bore_m, x, y - 1.5, THIN)
        _measure(pen, x, y, f"{what}{length(place_m)}")
    for (number, _), each in zip(numbered, laid, strict=True):  # over the lines that measure
        y = per_m * each.out_m + 4.5
        pen.balloon(_EDGE_MM + per_m * each.middle_m, y if each.is_above else -y, number)
    where = listed([length(branch.position_m or 0.0) for branch in branches])
    label = f"Branches at {where} {measured_from(line.legs)}, drawn to scale"
    return Sketch(pen=pen, area=area, label=label)


def _ends(line: LinePicture) -> tuple[str, str]:
    """Name both ends of the pipe."""
    if not line.legs:
        return "collector", "outlet"
    end = f"into {listed(list(line.goes_into))}" if line.goes_into else "outlet"
    return " and ".join(line.legs), end


def _crossing(pen: Pen, x: float, bore: float) -> None:
    """Two strokes across the pipe, where another one is joined beside it."""
    reach = max(1.5 * bore, 2.5)
    pen.line(x - reach, -reach, x + reach, reach, OUTLINE)
    pen.line(x - reach, reach, x + reach, -reach, OUTLINE)


def _draw_pipe(pen: Pen, line: LinePicture, per_m: float) -> None:
    for section in line.sections:
        left = _EDGE_MM + per_m * section.start_m
        _box(pen, left, left + per_m * section.length_m, 0.5 * per_m * section.inner_diameter_m)
    pen.line(_EDGE_MM - 2.0, 0.0, _WIDE_MM - _EDGE_MM + 2.0, 0.0, CENTRE)


def _box(pen: Pen, left: float, right: float, half: float) -> None:
    corners = [(left, -half), (right, -half), (right, half), (left, half)]
    pen.path(corners, OUTLINE, closed=True, fill_grey=_STEEL)


def _parts(branch: Branch) -> Iterator[tuple[float, float, float]]:
    """Where each of its tubes begins and ends, and how wide it is."""
    if branch.can is None:
        yield 0.0, branch.length_m, branch.tube.inner_diameter_m
        return
    yield 0.0, branch.can.neck_m, branch.tube.inner_diameter_m
    yield branch.can.neck_m, branch.length_m, branch.can.tube.inner_diameter_m


def _measure(pen: Pen, x: float, y: float, words: str) -> None:
    """Measure from the collector, in words beside the arrow: they would hide a short one."""
    pen.arrow(_EDGE_MM, y, x, y)
    is_far = x > 0.6 * _WIDE_MM
    align: Align = "end" if is_far else "start"
    pen.text(x - 5.0 if is_far else x + 2.0, y - 1.1, words, _WORDS_PT, align=align, backed=True)
