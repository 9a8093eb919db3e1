"""Figures as the sheets print them: metric and inch side by side, short enough for a drawing."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math

from analysis.branches import Tube
from analysis.words.quantities import decimal_inches, sixteenths

_INCH_M = 0.0254


def millimetres(length_m: float, digits: int = 1) -> str:
    """E.g. '702.4 mm'; whole numbers without decimals."""
    text = f"{1e3 * length_m:.{digits}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} mm"


def both(length_m: float) -> str:
    """E.g. '702.4 mm (27 5/8 in)': as a tape shows it."""
    return f"{millimetres(length_m)} ({sixteenths(length_m)})"


def all_three(length_m: float) -> str:
    """E.g. '702.4 mm = 27.65 in (27 5/8 in)': also as a caliper shows it."""
    return f"{millimetres(length_m)} = {decimal_inches(length_m)} ({sixteenths(length_m)})"


def caliper(length_m: float) -> str:
    """E.g. '63.50 mm (2.500 in)': for walls and diameters."""
    return f"{1e3 * length_m:.2f} mm ({length_m / _INCH_M:.3f} in)"


def tube_size(tube: Tube) -> str:
    """E.g. '50.80 x 1.65 mm (2.000 x 0.065 in)': outside and wall."""
    outside, wall = tube.outer_diameter_m, tube.wall_m
    return (
        f"{1e3 * outside:.2f} x {1e3 * wall:.2f} mm "
        f"({outside / _INCH_M:.3f} x {wall / _INCH_M:.3f} in)"
    )


def piece_row(number: int, what: str, length_m: float, note: str) -> tuple[str, ...]:
    """Row of the cut list: number, what, mm, inches, inches as on a tape, how to cut."""
    inches = decimal_inches(length_m).removesuffix(" in")
    return (
        f"{number}",
        what,
        f"{1e3 * length_m:.1f}",
        inches,
        sixteenths(length_m).removesuffix(" in"),
        note,
    )


def degrees(angle_rad: float) -> str:
    """E.g. '45°'."""
    return f"{round(math.degrees(abs(angle_rad)), 1):g}°"
