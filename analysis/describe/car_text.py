"""A car file's content as the text of one, with comments for whoever opens it later."""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
from collections.abc import Iterator, Mapping

from analysis.describe.stretches import Course, courses_of
from analysis.exhaust.car import parse_car

_HEAD = (
    "# A car as pipenote reads it. To change it, change what follows an equals sign: text in",
    "# straight double quotes, lengths and temperatures with their unit. A # begins a comment.",
)
_OF_KEY = {
    "stroke_cycle": "a two-stroke fires in every turn",
    "rotors": "each fires once a turn",
    "layout": "how the cylinders stand, and fire",
    "driving_range_rpm": "where a cure must not make anything louder",
    "inlet_gas_temperature": "of the gas at the collector, cruising; not of the skin",
    "outlet_gas_temperature": "of the gas at the tail",
    "branch_gas_temperature": "of the gas in a branch, as the post-fix drive found it",
    "outside_diameter": "its wall is taken off, on both sides",
    "places": "where a branch may go, along the pipe from its start",
    "longest_branch": "the longest that there is room for, along its middle",
    "widest_branch": "tube or can, measured outside",
    "beside": "how far out from the pipe there is room; a branch is bent into it",
}
_COMMENT_FROM = 38  # judgement: column, layout only


def car_text(table: Mapping[str, object]) -> str:
    """Write a car file that says what ``table`` says; comments give the running totals.

    Raises
    ------
    CarError
        The content is no car's.
    """
    courses = list(courses_of(parse_car(table)))
    lines = [*_HEAD]
    for name, inner in table.items():
        if isinstance(inner, Mapping):
            lines += _table(name, inner, courses)
    return "\n".join(lines) + "\n"


def _table(path: str, table: Mapping[str, object], courses: list[Course]) -> Iterator[str]:
    """Plain values first: behind a table within this one they would belong to that."""
    if values := list(_values(table)):
        yield from ("", f"[{path}]", *values)
    yield from _elements(path, table, courses)


def _elements(path: str, table: Mapping[str, object], courses: list[Course]) -> Iterator[str]:
    for key, several in table.items():
        for number, each in enumerate(_tables_in(several)):
            yield from _element(f"{path}.{key}", each, number, courses)


def _tables_in(value: object) -> list[Mapping[str, object]]:
    """Give the tables of a name that has several; none where it is a plain value."""
    if isinstance(value, list) and any(isinstance(each, Mapping) for each in value):
        return value
    return []


def _element(
    path: str, table: Mapping[str, object], number: int, courses: list[Course]
) -> Iterator[str]:
    """Write one of several tables of a name; a leg takes its course, a section its stretch."""
    header, about, own = f"[[{path}]]", "", courses
    if path == "exhaust.leg":
        own = [courses[number]]
        about = courses[number].title
    elif path.endswith(".section"):
        stretch = courses[0].stretches[number]
        about = (
            f"{stretch.number}: {stretch.name}, {stretch.start_m:.2f} to {stretch.end_m:.2f} m "
            "along the pipe"
        )
    yield ""
    yield f"{header:<{_COMMENT_FROM}}  # {_plain(about)}" if about else header
    yield from _values(table)
    yield from _elements(path, table, own)


def _values(table: Mapping[str, object]) -> Iterator[str]:
    for key, value in table.items():
        if isinstance(value, Mapping) or _tables_in(value):
            continue
        line, about = f"{key} = {_value(value)}", _OF_KEY.get(key)
        yield f"{line:<{_COMMENT_FROM}}  # {about}" if about else line


def _value(value: object) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    # a JSON string is a TOML one, but for one control character
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _plain(text: str) -> str:
    """Text that a comment may hold."""
    return "".join(sign if sign.isprintable() else " " for sign in text)
