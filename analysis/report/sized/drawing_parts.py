"""Lines, walls and words of the inline drawing, as SVG."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from html import escape

from analysis.branches import Branch
from analysis.report import words

WALL_PX = 5.0
_TEXT_PX = 15.0


def wall(x: float, y: float, width: float, height: float) -> str:
    """Cut wall, hatched."""
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" class="wall"/>'


def line(x1: float, y1: float, x2: float, y2: float, css: str) -> str:
    """Draw a line; a dimension has arrows at both ends, the flow at one."""
    ends = {"dim": ' marker-start="url(#arrow)" marker-end="url(#arrow)"'}.get(css, "")
    if css == "flow":
        ends = ' marker-end="url(#arrow)"'
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" class="{css}"{ends}/>'


def broken(x: float, top: float, bottom: float) -> str:
    """Edge of a pipe that goes on."""
    middle = (top + bottom) / 2
    return (
        f'<path d="M{x:.1f} {top:.1f} V{middle - 9:.1f} l-7 5 l14 8 l-7 5 V{bottom:.1f}" '
        'class="thin"/>'
    )


def text(
    x: float, y: float, said: str, anchor: str = "start", shift: float = 0.0, css: str = ""
) -> str:
    """Write one line of words."""
    return (
        f'<text x="{x + shift:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{_TEXT_PX:.0f}" '
        f'class="{css}">{escape(said)}</text>'
    )


def slide_text(x: float, hot: float, branch: Branch) -> str:
    """Say how far the cap slides."""
    return (
        text(x, hot - 32, "cap slides within the shaded part:")
        + text(x, hot - 13, f"{words.length(branch.shortest_m)} cold gas")
        + text(x, hot + 6, f"{words.length(branch.longest_m)} hot gas")
    )
