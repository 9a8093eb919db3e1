"""A piece of the exhaust as people say it: what it is, how long, how wide, inside or outside."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Mapping

from analysis.basics.units import INCH_M, parse_length_m
from analysis.describe.said import NUMBER, UNIT, length, without_little_words
from analysis.errors import CarError, QuantityError
from analysis.exhaust.sections import KINDS
from analysis.exhaust.tube_stock import PIPE_WALL_M, parse_wall_m, sold_by_outside
from analysis.words.mufflers import MEANT_BY
from analysis.words.sentences import listed

_SIZE = re.compile(
    rf"{NUMBER}\s*(?:ft|feet|foot|['’′])\s*{NUMBER}\s*(?:{UNIT})?|{NUMBER}\s*(?:{UNIT})?", re.I
)
_BETWEEN = re.compile(r"[\s,;:]*(?:x|×|by|long|wide|wall|and)?[\s,;:]*", re.I)
_KIND = re.compile(r"(?P<kind>[A-Za-z][A-Za-z -]*?)\s*(?P<rest>[,;:]?\s*[0-9.].*)")
_GAUGE = re.compile(r"(?<![0-9.,/])(?P<number>[0-9]{1,2})[\s-]*(?:gauge|ga|g)\b\.?", re.I)
_OUTSIDE = re.compile(r"\b(?:outside|outer|o\.?d)\b\.?(?:\s+diameter)?", re.I)
_INSIDE = re.compile(r"\b(?:inside|inner|i\.?d)\b\.?(?:\s+diameter)?", re.I)
EXAMPLES = {"in": "pipe, 63, 2.37", "mm": "pipe, 1600, 60", "": "pipe, 1.6 m, 60 mm"}
"""What to type, by the unit of a bare number."""


def piece(text: str, unit: str) -> dict[str, str]:
    """Read a piece: what it is, how long, how wide; the type if it is told.

    A pipe is as wide as it is inside, unless ``outside`` or a wall says otherwise; whatever has a
    shell is as wide as that is outside, unless ``inside`` does.

    Raises
    ------
    CarError
        Something lacks, is not known, or can be meant in two ways.
    """
    example = f"for example: {EXAMPLES[unit]}"
    found = _KIND.fullmatch(without_little_words(text))
    if found is None:
        raise CarError(f"say what it is, how long and how wide; {example}")
    word = found["kind"].strip().lower()
    kind, made = (word, "") if word in KINDS else MEANT_BY.get(word, ("", ""))
    if not kind:
        raise CarError(f"a piece must be {listed([*KINDS], 'or')}, got {word!r}; {example}")
    rest, wall = _without_gauge(found["rest"])
    is_outside, is_inside = _OUTSIDE.search(rest), _INSIDE.search(rest)
    rest = _INSIDE.sub(" ", _OUTSIDE.sub(" ", rest))
    sizes = _SIZE.findall(rest)
    # how long, how wide, and the wall: pipe, 1.6 m, 60 mm, 1.5 mm
    if len(sizes) == 3 and not wall:
        wall = length(sizes.pop(), unit)
    if len(sizes) != 2 or not all(map(_BETWEEN.fullmatch, _SIZE.split(rest))):
        raise CarError(f"give two sizes, how long and how wide; {example}")
    if is_inside and (is_outside or wall):
        raise CarError("give one width: inside, or outside with its wall")
    long, wide = (length(size, unit) for size in sizes)
    told = {"kind": kind, **({"type": made} if made else {}), "length": long}
    is_bare = not (is_inside or is_outside or wall)
    if is_bare and KINDS[kind].takes_branch:
        # the commonest slip: tube is sold by its outside
        _ask_of_sold(sizes[1].strip(), wide)
    if is_inside or (is_bare and KINDS[kind].takes_branch):
        return {**told, "inner_diameter": wide}
    if wall and 4.0 * parse_wall_m(wall) > parse_length_m(wide):
        raise CarError(f"a wall of {wall} is more than a quarter of {wide}; check both")
    return {**told, "outside_diameter": wide, **({"wall": wall} if wall else {})}


def inside(told: Mapping[str, str]) -> str:
    """Give how wide a pipe is inside, worked out in the unit of its outside where that was told."""
    if "inner_diameter" in told:
        return told["inner_diameter"]
    outside = told["outside_diameter"]
    wall_m = parse_wall_m(told["wall"]) if "wall" in told else PIPE_WALL_M
    inside_m = parse_length_m(outside) - 2.0 * wall_m
    return f"{1e3 * inside_m:.1f} mm" if outside.endswith("mm") else f"{inside_m / INCH_M:.3f} in"


def _without_gauge(rest: str) -> tuple[str, str]:
    """Take a gauge out of what was said, and give its wall; "" where none was."""
    gauge = _GAUGE.search(rest)
    if gauge is None:
        return rest, ""
    wall = f"{gauge['number']} gauge"
    try:
        parse_wall_m(wall)
    except QuantityError as error:
        raise CarError(str(error)) from error
    return f"{rest[: gauge.start()]} {rest[gauge.end() :]}", wall


def _ask_of_sold(typed: str, wide: str) -> None:
    if sold_by_outside(parse_length_m(wide)) is not None:
        raise CarError(
            f"{typed} is the outside of a tube as sold; is yours outside or inside? Write "
            f"{typed} inside, or {typed} outside, and the wall if you know it: 16 gauge, 1.5 mm"
        )
