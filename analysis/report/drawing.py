"""Dimensioned drawing of the main pipe and its branches, cut lengthwise, as inline SVG.

Drawn to proportion from the inner diameters and the lengths; the main pipe and the distance
between two branches are broken off. Lines follow engineering habit: walls hatched, centrelines
chain-dashed, thin dimension lines with filled arrows.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from html import escape

from analysis.branches import Branch, Sizing
from analysis.report import words

_TOP_PX = 96.0  # to the inside face of the longest branch's cap
_LONGEST_PX = 330.0
_COLUMN_PX = 490.0  # width given to one branch with its dimensions
_WALL_PX = 5.0
_AXIS_FROM_LEFT_PX = 130.0
_BELOW_PX = 84.0
_TEXT_PX = 15.0


def draw_branches(sizing: Sizing) -> str:
    """Draw every branch on one pipe; the text in it is escaped."""
    longest_m = max(b.longest_m for b in sizing.branches)
    scale = _LONGEST_PX / longest_m
    crown = _TOP_PX + _LONGEST_PX
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
        parts.append(_one_branch(number, axis, crown, scale, branch))
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
        _wall(a, crown - _WALL_PX, b - a, _WALL_PX)
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )
    middle = crown + bore / 2
    dimension_x = width - 70.0
    return (
        crowns
        + _wall(left, floor, right - left, _WALL_PX)
        + _line(left - 12, middle, right + 12, middle, "centre")
        + _break(left, crown - 10, floor + 10)
        + _break(right, crown - 10, floor + 10)
        + _line(left + 14, crown - 22, left + 62, crown - 22, "flow")
        + _text(left + 14, crown - 30, "gas")
        + _line(dimension_x, crown, dimension_x, floor, "dim")
        + _text(dimension_x, floor + 26, f"pipe bore {words.bore(diameter_m)}", "end", 60)
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
        + _wall(left - _WALL_PX, cap - _WALL_PX, _WALL_PX, crown - cap + _WALL_PX)
        + _wall(right, cap - _WALL_PX, _WALL_PX, crown - cap + _WALL_PX)
        + _wall(left, cap - _WALL_PX, bore, _WALL_PX)
        + _line(axis, cap - 22, axis, crown + 40, "centre")
        + _line(left - 30, crown, right + 200, crown, "datum")
        + _line(right, cap, dimension_x + 10, cap, "thin")
        + _line(dimension_x, crown, dimension_x, cap, "dim")
        + _text(text_x, crown - 116, f"{number}", css="balloon")
        + _text(text_x + 22, crown - 116, words.length(branch.length_m), css="strong")
        + _text(text_x, crown - 96, "datum to inside of cap")
        + _text(text_x, crown - 66, f"tube {branch.tube.name}")
        + _text(text_x, crown - 46, f"hole and bore {words.bore(branch.tube.inner_diameter_m)}")
        + _text(text_x, crown - 14, "DATUM: inner wall of the pipe", css="strong")
        + _text(axis, hot - 8, "cap", "middle")
        + _slide_text(text_x, hot, branch)
    )


def _slide_text(x: float, hot: float, branch: Branch) -> str:
    return (
        _text(x, hot - 32, "cap slides within the shaded part:")
        + _text(x, hot - 13, f"{words.length(branch.shortest_m)} cold gas")
        + _text(x, hot + 6, f"{words.length(branch.longest_m)} hot gas")
    )


def _spacing(first: float, second: float, floor: float, spacing_m: float) -> str:
    y = floor + 52
    return (
        _line(first, floor + 12, first, y + 6, "thin")
        + _line(second, floor + 12, second, y + 6, "thin")
        + _line(first, y, second, y, "dim")
        + _text((first + second) / 2, y - 6, f"{words.length(spacing_m)} apart", "middle")
    )


def _wall(x: float, y: float, width: float, height: float) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" class="wall"/>'


def _line(x1: float, y1: float, x2: float, y2: float, css: str) -> str:
    ends = {"dim": ' marker-start="url(#arrow)" marker-end="url(#arrow)"'}.get(css, "")
    if css == "flow":
        ends = ' marker-end="url(#arrow)"'
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" class="{css}"{ends}/>'


def _break(x: float, top: float, bottom: float) -> str:
    middle = (top + bottom) / 2
    return (
        f'<path d="M{x:.1f} {top:.1f} V{middle - 9:.1f} l-7 5 l14 8 l-7 5 V{bottom:.1f}" '
        'class="thin"/>'
    )


def _text(
    x: float, y: float, text: str, anchor: str = "start", shift: float = 0.0, css: str = ""
) -> str:
    return (
        f'<text x="{x + shift:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{_TEXT_PX:.0f}" '
        f'class="{css}">{escape(text)}</text>'
    )
