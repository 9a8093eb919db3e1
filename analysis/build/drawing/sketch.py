"""The exhaust, or each pipe of it that gets a branch, with its branches, to scale, for one look.

Sizes are judgement: layout, which moves no answer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass

from analysis.branches import Branch, LinePicture, Sizing
from analysis.build.drawing.pen import CENTRE, HIDDEN, OUTLINE, THIN, Align, Area, Pen
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
_KEPT = "kept free at "


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
    pipe_end_m: float
    is_above: bool

    @property
    def _at_m(self) -> float:
        return self.branch.position_m or 0.0

    @property
    def _rise_m(self) -> float:
        """From the pipe's wall to the middle of the stretch along the pipe."""
        return min(_RISE_BORES * self.branch.tube.outer_diameter_m, self.branch.length_m)

    @property
    def _way(self) -> int:
        """1 towards the outlet, where the pipe is long enough for it; else -1."""
        return 1 if self._at_m + self.branch.length_m <= self.pipe_end_m else -1

    @property
    def out_m(self) -> float:
        """How far it reaches from the pipe's middle."""
        if self.branch.can is not None:
            return self.foot_m + self.branch.length_m
        return self.foot_m + self._rise_m + 0.5 * self.branch.tube.outer_diameter_m

    @property
    def middle_m(self) -> float:
        """Where along the pipe its number stands."""
        if self.branch.can is not None:
            return self._at_m
        return self._at_m + 0.5 * self._way * (self.branch.length_m - self._rise_m)

    def boxes_m(self) -> Iterator[Area]:
        """Give each straight stretch."""
        at_m, rise_m = self._at_m, self._rise_m
        if self.branch.can is not None:
            for start_m, end_m, tube in self.branch.tubes:
                half_m = 0.5 * tube.inner_diameter_m
                yield self._box_m(at_m - half_m, at_m + half_m, start_m, end_m)
            return
        half_m = 0.5 * self.branch.tube.outer_diameter_m
        yield self._box_m(at_m - half_m, at_m + half_m, 0.0, rise_m)
        end_m = at_m + self._way * (self.branch.length_m - rise_m)
        yield self._box_m(at_m - self._way * half_m, end_m, rise_m - half_m, rise_m + half_m)

    def _box_m(self, left: float, right: float, start_m: float, end_m: float) -> Area:
        """Between two places along the pipe, from so far out of its wall to so far."""
        side = 1.0 if self.is_above else -1.0
        low, high = side * (self.foot_m + start_m), side * (self.foot_m + end_m)
        return Area(left=left, bottom=low, right=right, top=high)


def _sketch(sizing: Sizing, line: LinePicture) -> Sketch:
    every = enumerate(sizing.branches, start=1)
    numbered = [(number, branch) for number, branch in every if branch.legs == line.legs]
    bore_m = numbered[0][1].pipe_inner_diameter_m or sizing.pipe_inner_diameter_m
    end_m = line.sections[-1].start_m + line.sections[-1].length_m
    per_m = (_WIDE_MM - 2.0 * _EDGE_MM) / end_m
    half = 0.5 * per_m * max(section.inner_diameter_m for section in line.sections)
    laid = [
        _Laid(branch=branch, foot_m=0.5 * bore_m, pipe_end_m=end_m, is_above=not row % 2)
        for row, (_, branch) in enumerate(numbered)
    ]
    up = max((per_m * each.out_m for each in laid if each.is_above), default=half)
    low = max((per_m * each.out_m for each in laid if not each.is_above), default=half)
    low = max(low + _BALLOON_MM if len(laid) > 1 else low, half)
    marks = _marks(sizing, line)
    down = low + _FIRST_MM + _STEP_MM * (len(marks) + 0.7)
    area = Area(left=0.0, bottom=-down, right=_WIDE_MM, top=max(up, half) + _BALLOON_MM)
    pen = Pen()

    def box(part_m: Area, grey: float) -> None:
        left, right = (_EDGE_MM + per_m * at_m for at_m in (part_m.left, part_m.right))
        bottom, top = per_m * part_m.bottom, per_m * part_m.top
        pen.box(Area(left=left, bottom=bottom, right=right, top=top), OUTLINE, fill_grey=grey)

    for each in line.sections:
        half_m, end_m = 0.5 * each.inner_diameter_m, each.start_m + each.length_m
        box(Area(left=each.start_m, bottom=-half_m, right=end_m, top=half_m), _STEEL)
    pen.line(_EDGE_MM - 2.0, 0.0, _WIDE_MM - _EDGE_MM + 2.0, 0.0, CENTRE)
    start, end = _ends(line)
    pen.text(_EDGE_MM, 1.5 - down, start, _WORDS_PT)
    pen.text(_WIDE_MM - _EDGE_MM, 1.5 - down, end, _WORDS_PT, align="end")
    for branch in laid:
        for stretch_m in branch.boxes_m():
            box(stretch_m, _BRANCH_GREY)
    for at_m, _ in line.crossings:
        _crossing(pen, _EDGE_MM + per_m * at_m, per_m * bore_m)
    for row, (place_m, what) in enumerate(marks):
        x, y = _EDGE_MM + per_m * place_m, -low - _FIRST_MM - _STEP_MM * row
        pen.line(x, -0.5 * per_m * bore_m, x, y - 1.5, THIN)
        if what == _KEPT:
            pen.line(x, half + 4.0, x, -half, HIDDEN)
        _measure(pen, x, y, f"{what}{length(place_m)}")
    for (number, _), branch in zip(numbered, laid, strict=True):  # over the lines that measure
        y = per_m * branch.out_m + 4.5
        pen.balloon(_EDGE_MM + per_m * branch.middle_m, y if branch.is_above else -y, number)
    where = listed([length(branch.position_m or 0.0) for _, branch in numbered])
    label = f"Branches at {where} {measured_from(line.legs)}, drawn to scale"
    return Sketch(pen=pen, area=area, label=label)


def _marks(sizing: Sizing, line: LinePicture) -> list[tuple[float, str]]:
    """Give the places to measure on this pipe, and what is there if it is no branch.

    The farthest first, so that no line runs through the words of another.
    """
    kept = [] if sizing.kept is None else [sizing.kept]
    marks = {(each.position_m or 0.0, "") for each in sizing.branches if each.legs == line.legs}
    marks |= {(each.position_m or 0.0, _KEPT) for each in kept if each.legs == line.legs}
    marks |= {(at_m, f"{what} at ") for at_m, what in line.crossings}
    return sorted(marks, reverse=True)


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


def _measure(pen: Pen, x: float, y: float, words: str) -> None:
    """Measure from the collector, in words beside the arrow: they would hide a short one."""
    pen.arrow(_EDGE_MM, y, x, y)
    is_far = x > 0.6 * _WIDE_MM
    align: Align = "end" if is_far else "start"
    pen.text(x - 5.0 if is_far else x + 2.0, y - 1.1, words, _WORDS_PT, align=align, backed=True)
