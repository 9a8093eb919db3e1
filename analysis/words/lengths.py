"""Lengths and angles as a workshop reads them, metric and inch side by side or one of them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.basics.units import INCH_M
from analysis.branches import Tube
from analysis.words.shown import either

_LONG_M = 2.0  # judgement: people say metres from here on; it moves no figure


def millimetres(length_m: float, digits: int = 1) -> str:
    """E.g. '702.4 mm'; whole numbers without decimals."""
    text = f"{1e3 * length_m:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{'0' if text == '-0' else text} mm"


def decimal_inches(length_m: float) -> str:
    """E.g. '27.65 in'."""
    return f"{length_m / INCH_M:.2f} in"


def sixteenths(length_m: float) -> str:
    """Nearest sixteenth of an inch as a tape shows it, e.g. '27 5/8 in'."""
    return _fraction(length_m, 16)


def thirty_seconds(length_m: float) -> str:
    """Nearest 1/32 in, within 0.4 mm, to cut by: '27 21/32 in'."""
    return _fraction(length_m, 32)


def _fraction(length_m: float, parts: int) -> str:
    total = round(parts * length_m / INCH_M)
    sign, (whole, rest) = ("-" if total < 0 else ""), divmod(abs(total), parts)
    if rest == 0:
        return f"{sign}{whole} in"
    shared = math.gcd(rest, parts)
    fraction = f"{rest // shared}/{parts // shared} in"
    return f"{sign}{whole} {fraction}" if whole else f"{sign}{fraction}"


def length(length_m: float) -> str:
    """To the millimetre, to read: '702 mm (27 5/8 in)'."""
    return either(millimetres(length_m, 0), sixteenths(length_m))


def length_or_more(length_m: float) -> str:
    """As `length`, but never less: for room that is needed."""
    metric_m = math.ceil(1e3 * length_m) / 1e3
    inch_m = math.ceil(16.0 * length_m / INCH_M) * INCH_M / 16.0
    return either(millimetres(metric_m, 0), sixteenths(inch_m))


def saw_length(length_m: float) -> str:
    """To the millimetre and 1/32 in, to saw: '702 mm (27 21/32 in)', the mark that `both` names."""
    return either(millimetres(length_m, 0), thirty_seconds(length_m))


def told_length(length_m: float) -> str:
    """As an option takes it: in one unit, '702 mm'."""
    metric = millimetres(length_m, 0)
    return either(metric, sixteenths(length_m), metric)


def both(length_m: float) -> str:
    """To a tenth of a millimetre and 1/32 in, to cut: '702.4 mm (27 21/32 in)'."""
    return either(millimetres(length_m), thirty_seconds(length_m))


def all_three(length_m: float) -> str:
    """E.g. '702.4 mm = 27.65 in (27 21/32 in)': also as a caliper shows it."""
    inches = f"{decimal_inches(length_m)} ({thirty_seconds(length_m)})"
    return either(millimetres(length_m), inches, f"{millimetres(length_m)} = {inches}")


def rough_length(length_m: float) -> str:
    """To the centimetre and the inch, for a place rather than a cut, e.g. '1050 mm (41 in)'."""
    is_on_a_tape = length_m < _LONG_M
    metric = f"{round(1e3 * length_m, -1):.0f} mm" if is_on_a_tape else f"{length_m:.2f} m"
    return either(metric, f"{length_m / INCH_M:.0f} in")


def longer_by(length_m: float) -> str:
    """Difference with its sign, in one unit: '+35 mm'."""
    return f"{'+' if round(1e3 * length_m) > 0 else ''}{told_length(length_m)}"


def diameter(diameter_m: float) -> str:
    """Diameter to order or drill: '53.9 mm (2.12 in)'."""
    return either(f"{1e3 * diameter_m:.1f} mm", decimal_inches(diameter_m))


def caliper(length_m: float) -> str:
    """E.g. '63.50 mm (2.500 in)': for walls and diameters."""
    return either(f"{1e3 * length_m:.2f} mm", f"{length_m / INCH_M:.3f} in")


def caliper_range(low_m: float, high_m: float) -> str:
    """E.g. '47.73 to 48.62 mm (1.879 to 1.914 in)': as `caliper`."""
    return either(
        f"{1e3 * low_m:.2f} to {1e3 * high_m:.2f} mm",
        f"{low_m / INCH_M:.3f} to {high_m / INCH_M:.3f} in",
    )


def tube_size(tube: Tube) -> str:
    """E.g. '50.80 x 1.65 mm (2.000 x 0.065 in)': outside and wall."""
    outside, wall = tube.outer_diameter_m, tube.wall_m
    return either(
        f"{1e3 * outside:.2f} x {1e3 * wall:.2f} mm",
        f"{outside / INCH_M:.3f} x {wall / INCH_M:.3f} in",
    )


def tube_measures(tube: Tube) -> str:
    """E.g. 'outside 50.80 mm (2.000 in), wall 1.65 mm (0.065 in), inside 47.50 mm (1.870 in)'."""
    outside, wall, inside = map(
        caliper, (tube.outer_diameter_m, tube.wall_m, tube.inner_diameter_m)
    )
    return f"outside {outside}, wall {wall}, inside {inside}"


def degrees(angle_rad: float) -> str:
    """E.g. '45°'."""
    return f"{round(math.degrees(abs(angle_rad)), 1):g}°"
