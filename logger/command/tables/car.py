"""A car as text for a terminal: its exhaust drawn to scale, running totals, what is odd."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from analysis.basics.units import INCH_M
from analysis.describe.facts import facts_of_engine, facts_of_exhaust
from analysis.describe.odd import odd_in, said_of_pipes
from analysis.describe.stretches import Course, courses_of
from analysis.exhaust.car import Car
from analysis.words.shown import either
from logger.command.tables.layout import labelled, plain
from logger.screen.terminal import headed

# Cells of a terminal are about twice as high as wide: half of one is a square.
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
_PLAIN = str.maketrans("▀▄█", "###")
_LEAST_COLUMNS, _MOST_COLUMNS = 20, 110  # judgement: layout, moves no answer


def car_text(car: Car, columns: int, *, blocks: bool = True) -> RenderableType:
    """Draw it as wide as so many columns allow; ``blocks`` where they can be shown."""
    courses = courses_of(car)
    wide = max(_LEAST_COLUMNS, min(columns - 1, _MOST_COLUMNS))
    longest_m = max((course.length_m for course in courses), default=0.0)
    parts: list[RenderableType] = [labelled(facts_of_engine(car))]
    for number, course in enumerate(courses):
        like = next((each for each in courses[:number] if course.is_as(each)), None)
        lines = drawn(course, longest_m / wide)
        picture = "\n".join(lines) if blocks else "\n".join(lines).translate(_PLAIN)
        parts += [Text(""), plain(course.title), Text(picture, no_wrap=True)]
        parts.append(_table(course) if like is None else plain(f"The same pieces as {like.leg}."))
    rows = [
        *facts_of_exhaust(car),
        *(("Odd", doubt.message) for doubt in odd_in(car)),
        *(("Note", doubt.message) for doubt in said_of_pipes(car)),
    ]
    return Group(*parts, labelled(rows))


def can_show_blocks(encoding: str | None) -> bool:
    """Whether an encoding has the signs that a picture is drawn with."""
    try:
        "".join(_HALVES.values()).encode(encoding or "ascii")
    except (LookupError, UnicodeEncodeError):
        return False
    return True


def drawn(course: Course, metres_per_column: float) -> list[str]:
    """Draw one pipe to scale, along and across, with its pieces' numbers, room and ruler."""
    stretches = course.stretches
    halves = [max(1, round(s.section.inner_diameter_m / metres_per_column)) for s in stretches]
    ends = [round(each.end_m / metres_per_column) for each in stretches]
    starts = [0, *ends[:-1]]
    high = max(halves) + max(halves) % 2
    pieces = list(zip(halves, starts, ends, strict=True))
    columns = [half for half, start, end in pieces for _ in range(start, end)]
    rows = [
        "".join(
            _HALVES[_is_filled(2 * row, half, high), _is_filled(2 * row + 1, half, high)]
            for half in columns
        )
        for row in range(high // 2)
    ]
    told = list(zip(pieces, stretches, strict=True))
    middles = [((start + end) // 2, str(each.number)) for (_, start, end), each in told]
    totals = [(end, _ruled(each.end_m)) for (*_, end), each in told[:-1]]
    totals = [(0, "0"), *totals, (ends[-1], _ruled(course.length_m, with_unit=True))]
    room = _room(course, metres_per_column)
    return [_line(middles, ends[-1]), *rows, *([room] if room else []), _line(totals, ends[-1])]


def _is_filled(at: int, half: int, high: int) -> bool:
    first = (high - half) // 2
    return first <= at < first + half


def _line(marks: Sequence[tuple[int, str]], columns: int) -> str:
    """Set words about their columns; one that would touch another is left out, not the last."""
    *others, (last_at, last) = marks
    start = min(max(last_at - len(last) // 2, 0), columns - len(last))
    text = ""
    for column, word in others:
        at = max(column - len(word) // 2, 0)
        if (not text or at > len(text)) and at + len(word) < start:
            text = f"{text:<{at}}{word}"
    return f"{text:<{start}}{last}"


def _room(course: Course, metres_per_column: float) -> str:
    text = ""
    for start_m, end_m in course.places_m:
        start, end = round(start_m / metres_per_column), round(end_m / metres_per_column)
        wide = max(end - start, 2)
        text = f"{text:<{start}}|{'room'.center(wide - 2, '-') if wide > 7 else '-' * (wide - 2)}|"
    return text


def _table(course: Course) -> RenderableType:
    rows = [
        (
            str(each.number),
            each.name.removesuffix(" muffler"),
            _both(each.section.length_m, 0, 1),
            _both(each.section.inner_diameter_m, 1, 2),
            _both(each.end_m, 0, 1),
        )
        for each in course.stretches
    ]
    return headed("", ("", "Piece", "Length", "Inside", "Ends at"), rows)


def _ruled(length_m: float, *, with_unit: bool = False) -> str:
    """One figure of the ruler."""
    metric, inch = f"{length_m:.2f}", f"{length_m / INCH_M:.0f}"
    return (
        either(f"{metric} m", f"{inch} in", f"{metric} m")
        if with_unit
        else either(metric, inch, metric)
    )


def _both(length_m: float, metric_digits: int, inch_digits: int) -> str:
    """Shorter than in a sentence, so that five columns go on a line."""
    metric = f"{1e3 * length_m:.{metric_digits}f} mm"
    inch = f"{length_m / INCH_M:.{inch_digits}f} in"
    return either(metric, inch, f"{metric}, {inch}")
