"""Dimensioned drawing of the main pipe and its branches, cut lengthwise, as inline SVG.

Drawn to proportion from the inner diameters and the lengths; the main pipe and the distance
between two branches are broken off. Lines follow engineering habit: walls hatched, centrelines
chain-dashed, thin dimension lines with filled arrows.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.branches import Branch, Sizing
from analysis.report import words
from analysis.report.sized.drawing_can import WIDEST_CAN_PX, branch_with_can
from analysis.report.sized.drawing_parts import WALL_PX, broken, line, slide_text, text, wall

_TOP_PX = 96.0  # to the inside face of the longest branch's cap
_LONGEST_PX = 330.0
_COLUMN_PX = 490.0  # width given to one branch with its dimensions
_AXIS_FROM_LEFT_PX = 130.0
_BELOW_PX = 84.0


def draw_branches(sizing: Sizing) -> str:
    """Draw every branch on one pipe; the text in it is escaped."""
    longest_m = max(b.longest_m for b in sizing.branches)
    scale = _LONGEST_PX / longest_m
    for can in (branch.can for branch in sizing.branches if branch.can is not None):
        scale = min(scale, WIDEST_CAN_PX / can.tube.inner_diameter_m)
    crown = _TOP_PX + longest_m * scale
    bore = sizing.pipe_inner_diameter_m * scale
    width = _COLUMN_PX * len(sizing.branches)
    height = crown + bore + _BELOW_PX
    axes = [i * _COLUMN_PX + _AXIS_FROM_LEFT_PX for i in range(len(sizing.branches))]
    holes = [
        (axis, branch.tube.inner_diameter_m * scale)
        for axis, branch in zip(axes, sizing.branches, strict=True)
    ]
    parts = [_main_pipe(width, crown, bore, holes, sizing.pipe_inner_diameter_m)]
    for number, (axis, branch) in enumerate(zip(axes, sizing.branches, strict=True), start=1):
        if branch.can is None:
            parts.append(_one_branch(number, axis, crown, scale, branch))
        else:
            parts.append(branch_with_can(number, axis, crown, scale, branch, branch.can))
    if sizing.spacing_m is not None and len(axes) == 2:
        parts.append(_spacing(axes[0], axes[1], crown + bore, sizing.spacing_m))
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" class="drawing drawing-{len(axes)}" '
        f'role="img" aria-labelledby="drawing-title" xmlns="http://www.w3.org/2000/svg">'
        f"{_DEFINITIONS}{''.join(parts)}</svg>"
    )


_DEFINITIONS = (
    '<defs><pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="5" class="hatch"/></pattern>'
    '<marker id="arrow" viewBox="0 0 10 6" refX="10" refY="3" markerWidth="10" markerHeight="6" '
    'markerUnits="userSpaceOnUse" orient="auto-start-reverse">'
    '<path d="M0 0 L10 3 L0 6 z"/></marker></defs>'
)


def _main_pipe(
    width: float, crown: float, bore: float, holes: list[tuple[float, float]], diameter_m: float
) -> str:
    floor = crown + bore
    left, right = 18.0, width - 18.0
    edges = [left, *(x for axis, hole in holes for x in (axis - hole / 2, axis + hole / 2)), right]
    crowns = "".join(
        wall(a, crown - WALL_PX, b - a, WALL_PX)
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )
    middle = crown + bore / 2
    dimension_x = width - 70.0
    return (
        crowns
        + wall(left, floor, right - left, WALL_PX)
        + line(left - 12, middle, right + 12, middle, "centre")
        + broken(left, crown - 10, floor + 10)
        + broken(right, crown - 10, floor + 10)
        + line(left + 14, crown - 22, left + 62, crown - 22, "flow")
        + text(left + 14, crown - 30, "gas")
        + line(dimension_x, crown, dimension_x, floor, "dim")
        + text(dimension_x, floor + 26, f"pipe bore {words.bore(diameter_m)}", "end", 60)
    )


def _one_branch(number: int, axis: float, crown: float, scale: float, branch: Branch) -> str:
    bore = branch.tube.inner_diameter_m * scale
    cap = crown - branch.length_m * scale
    hot, cold = crown - branch.longest_m * scale, crown - branch.shortest_m * scale
    left, right = axis - bore / 2, axis + bore / 2
    dimension_x, text_x = right + 42, right + 52
    return (
        f'<rect x="{left - 12:.1f}" y="{hot:.1f}" width="{bore + 24:.1f}" '
        f'height="{cold - hot:.1f}" class="slide"/>'
        + wall(left - WALL_PX, cap - WALL_PX, WALL_PX, crown - cap + WALL_PX)
        + wall(right, cap - WALL_PX, WALL_PX, crown - cap + WALL_PX)
        + wall(left, cap - WALL_PX, bore, WALL_PX)
        + line(axis, cap - 22, axis, crown + 40, "centre")
        + line(left - 30, crown, right + 200, crown, "datum")
        + line(right, cap, dimension_x + 10, cap, "thin")
        + line(dimension_x, crown, dimension_x, cap, "dim")
        + text(text_x, crown - 116, f"{number}", css="balloon")
        + text(text_x + 22, crown - 116, words.length(branch.length_m), css="strong")
        + text(text_x, crown - 96, "datum to inside of cap")
        + text(text_x, crown - 66, f"tube {branch.tube.name}")
        + text(text_x, crown - 46, f"hole and bore {words.bore(branch.tube.inner_diameter_m)}")
        + text(text_x, crown - 14, "DATUM: inner wall of the pipe", css="strong")
        + text(axis, hot - 8, "cap", "middle")
        + slide_text(text_x, hot, branch)
    )


def _spacing(first: float, second: float, floor: float, spacing_m: float) -> str:
    y = floor + 52
    return (
        line(first, floor + 12, first, y + 6, "thin")
        + line(second, floor + 12, second, y + 6, "thin")
        + line(first, y, second, y, "dim")
        + text((first + second) / 2, y - 6, f"{words.length(spacing_m)} apart", "middle")
    )
