"""A branch with a can on a neck, for the inline drawing."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.branches import Branch, Can
from analysis.report import words
from analysis.report.sized.drawing_parts import WALL_PX, line, slide_text, text, wall

WIDEST_CAN_PX = 70.0  # or the words beside it do not fit
_CHAIN_PX, _WHOLE_PX, _WORDS_PX = 14.0, 58.0, 66.0  # from the can
_ON_CAP_PX = 30.0  # above the lines of the lengths there is more room
_LEAST_HIGH_PX = 216.0  # of the words below those on the cap


def branch_with_can(
    number: int, axis: float, crown: float, scale: float, branch: Branch, can: Can
) -> str:
    """Draw neck and can to proportion, with the length of each."""
    neck, wide = branch.tube.inner_diameter_m * scale, can.tube.inner_diameter_m * scale
    cap, front = crown - branch.length_m * scale, crown - can.neck_m * scale
    hot, cold = crown - branch.longest_m * scale, crown - branch.shortest_m * scale
    left, right = axis - wide / 2, axis + wide / 2
    chain, whole = right + _CHAIN_PX, right + _WHOLE_PX
    return (
        f'<rect x="{left - 12:.1f}" y="{hot:.1f}" width="{wide + 24:.1f}" '
        f'height="{cold - hot:.1f}" class="slide"/>'
        + wall(axis - neck / 2 - WALL_PX, front, WALL_PX, crown - front)
        + wall(axis + neck / 2, front, WALL_PX, crown - front)
        + wall(left - WALL_PX, front, (wide - neck) / 2 + WALL_PX, WALL_PX)
        + wall(axis + neck / 2, front, (wide - neck) / 2 + WALL_PX, WALL_PX)
        + wall(left - WALL_PX, cap - WALL_PX, WALL_PX, front - cap + WALL_PX)
        + wall(right, cap - WALL_PX, WALL_PX, front - cap + WALL_PX)
        + wall(left, cap - WALL_PX, wide, WALL_PX)
        + line(axis, cap - 22, axis, crown + 40, "centre")
        + line(left - 30, crown, right + 200, crown, "datum")
        + line(right, cap, whole + 10, cap, "thin")
        + line(right, front, chain + 10, front, "thin")
        + line(chain, crown, chain, front, "dim")
        + line(chain, front, chain, cap, "dim")
        + line(whole, crown, whole, cap, "dim")
        + text(chain + 4, (crown + front) / 2 + 5, "neck")
        + text(chain + 4, (front + cap) / 2 + 5, "can")
        + text(axis, hot - 8, "cap", "middle")
        + _words(number, right + _WORDS_PX, crown, branch, can)
        + slide_text(right + _ON_CAP_PX, min(hot, crown - _LEAST_HIGH_PX), branch)
    )


def _words(number: int, x: float, crown: float, branch: Branch, can: Can) -> str:
    return (
        text(x, crown - 178, f"{number}", css="balloon")
        + text(x + 22, crown - 178, words.length(branch.length_m), css="strong")
        + text(x, crown - 158, "datum to inside of cap")
        + text(x, crown - 128, f"can {words.length(branch.length_m - can.neck_m)}", css="strong")
        + text(x, crown - 108, f"tube {can.tube.name}")
        + text(x, crown - 80, f"neck {words.length(can.neck_m)}", css="strong")
        + text(x, crown - 60, f"tube {branch.tube.name}")
        + text(x, crown - 40, f"hole and bore {words.bore(branch.tube.inner_diameter_m)}")
        + text(x, crown - 14, "DATUM: inner wall of the pipe", css="strong")
    )
