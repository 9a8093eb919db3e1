"""Round exhaust tube as shops stock it.

Sizes: common practice, no source. Tube is sold by its outside diameter; the bores follow from the
wall. Gauge names for walls mean different things in different shops: measure the wall where you
can.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re

from analysis.basics.units import INCH_M, parse_length_m
from analysis.branches import Tube
from analysis.errors import QuantityError

# Common practice, no source, as the top says. Outside them a size is a slip of unit and refused.
_OUTSIDE_M = (0.012, 0.160)
WALLS_M = (0.0005, 0.006)


# Walls by the Birmingham wire gauge, as tube is sold by (from memory, in inches); of sheet the
# gauges are up to 0.2 mm thinner, which moves an inside by 0.4 mm.
_GAUGE_WALLS_IN = {
    **{10: 0.134, 11: 0.120, 12: 0.109, 13: 0.095},
    **{14: 0.083, 16: 0.065, 18: 0.049, 20: 0.035},
}

_SAME_WALL_M = 0.00001  # judgement: a wall typed in mm, to the hundredth; moves a name only

_GAUGE = re.compile(r"(?P<number>[0-9]{1,2})\s*-?\s*(?:gauge|ga|g)\.?", re.IGNORECASE)


def parse_wall_m(text: str) -> float:
    """Read the wall of a tube or a shell: a length with its unit, or a gauge such as '16 gauge'.

    Raises
    ------
    QuantityError
        It is neither, or a gauge that tube is not sold in.
    """
    gauge = _GAUGE.fullmatch(text.strip())
    if gauge is None:
        return parse_length_m(text)
    number = int(gauge["number"])
    if number not in _GAUGE_WALLS_IN:
        known = ", ".join(map(str, _GAUGE_WALLS_IN))
        raise QuantityError(
            f"a wall of {number} gauge is not known, only {known}; give it in mm or in"
        )
    return parse_length_m(f"{_GAUGE_WALLS_IN[number]:g} in")


def gauge_of(wall_m: float) -> int | None:
    """Give the gauge that a shop would call a wall by; None where it is none."""
    same = (
        number
        for number, wall_in in _GAUGE_WALLS_IN.items()
        if abs(wall_m - wall_in * INCH_M) <= _SAME_WALL_M
    )
    return next(same, None)


def tubes_called(text: str) -> tuple[Tube, ...]:
    """Tubes that are ``inch``, ``metric``, or of one size as for `parse_tube`."""
    stocks = {"inch": INCH_TUBES, "metric": METRIC_TUBES}
    return stocks.get(text.strip().lower()) or (parse_tube(text),)


def parse_tube(text: str) -> Tube:
    """Read a tube from its outside diameter and wall, as '2.25 in x 0.065 in' or '2 in x 16 ga'.

    Raises
    ------
    QuantityError
        Not two lengths with an x between, or a size that is not exhaust tube.
    """
    parts = re.split(r"\s*[x×]\s*", text.strip(), flags=re.IGNORECASE)
    if len(parts) != 2:
        raise QuantityError(
            f"tube {text!r} must be outside diameter x wall, like '2.25 in x 0.065 in'"
        )
    outside_m, wall_m = parse_length_m(parts[0]), parse_wall_m(parts[1])
    is_thick = 4.0 * wall_m > outside_m
    in_range = _OUTSIDE_M[0] <= outside_m <= _OUTSIDE_M[1] and WALLS_M[0] <= wall_m <= WALLS_M[1]
    if is_thick or not in_range:
        raise QuantityError(
            f"tube {text!r} is not exhaust tube: 12 to 160 mm outside, 0.5 to 6 mm wall, and that "
            "no more than a quarter of the outside"
        )
    return Tube(outer_diameter_m=outside_m, wall_m=wall_m, name=" x ".join(parts))


# Outside diameters on sale: common practice, no source; walls of 16 gauge (Birmingham) and 1.5 mm.
INCH_TUBES = tuple(
    parse_tube(f"{outside:g} in x 0.065 in")
    for outside in (1.5, 1.75, 1.875, 2.0, 2.25, 2.5, 2.75, 3.0, 3.5, 4.0)
)
METRIC_TUBES = tuple(
    parse_tube(f"{outside:g} mm x 1.5 mm")
    for outside in (38, 42, 45, 48, 50, 54, 55, 60, 63.5, 65, 70, 76, 89, 101.6)
)

# Sizes that nobody measures inside by chance: inch tube, and the round pipe of ISO 4200, series 1,
# from memory, with the wall that is thin for it. Metric tube is left out: its sizes are round
# numbers, which an inside is rounded to as well.
_SOLD_BY_OUTSIDE = (
    *INCH_TUBES,
    *(parse_tube(f"{outside:g} mm x 1.5 mm") for outside in (33.7, 42.4, 48.3, 60.3, 76.1)),
)
_SAME_M = 0.00006  # a typed outside diameter, to the tenth of a millimetre
# 2 in tube of 18 gauge is 48.3 mm inside: a width that is both tells of no slip.
_INSIDES_M = tuple(
    tube.outer_diameter_m - 2.0 * parse_length_m(f"{wall_in:g} in")
    for tube in INCH_TUBES
    for wall_in in _GAUGE_WALLS_IN.values()
)

# judgement: where nobody tells a wall; those on sale, 1.2 to 2.0 mm, move an inside by 0.8 mm.
PIPE_WALL_M = 0.0016
# judgement: two sheets of a shell; 1 mm more or less moves its area by 1 % and no place.
SHELL_WALL_M = 0.0015

# How much wider than a tube's outside a sleeve is that slides on it: common practice, no source.
# 1 mm more makes 80 mm of a 2.25 in sleeve count as 3 mm more.
SLIDES_M = (0.0001, 0.0010)
# Walls of sleeves that a band clamp still draws in: common practice, no source.
_SLEEVE_WALLS = {"in": ("16 gauge", "18 gauge"), "mm": ("1.5 mm", "1.2 mm", "2 mm")}


def slides_over(tube: Tube) -> Tube | None:
    """Give stock tube that slides on this one with a small gap; None where there is none."""
    unit, stock = ("mm", METRIC_TUBES) if "mm" in tube.name else ("in", INCH_TUBES)
    for each in stock:
        for wall in _SLEEVE_WALLS[unit]:
            over = parse_tube(f"{each.name.partition(' x ')[0]} x {wall}")
            gap_m = round(over.inner_diameter_m - tube.outer_diameter_m, 7)
            if SLIDES_M[0] <= gap_m <= SLIDES_M[1]:
                return over
    return None


def sold_by_outside(width_m: float) -> Tube | None:
    """Give the tube that is sold as just that wide outside, if no other is so wide inside."""
    if any(abs(width_m - inside_m) <= _SAME_M for inside_m in _INSIDES_M):
        return None
    same = (t for t in _SOLD_BY_OUTSIDE if abs(width_m - t.outer_diameter_m) <= _SAME_M)
    return next(same, None)
