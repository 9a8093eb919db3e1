"""Trouble met while recording, in words: alike troubles summed up, with what they mean here.

Kinds of trouble, and what each means, are ``trouble.toml``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
import tomllib
from collections.abc import Sequence

from analysis.basics.own_files import own_text
from analysis.drive import Trouble
from analysis.words.quantities import seconds
from analysis.words.sentences import sentence

_KINDS = tomllib.loads(own_text("analysis.words", "trouble.toml"))


def trouble_lines(trouble: Sequence[Trouble]) -> tuple[str, ...]:
    """One line for each kind of trouble, in the order in which they first came.

    A single trouble keeps its own words; several are counted and their lengths added up.
    """
    alike: dict[str, list[Trouble]] = {}
    for each in by_time(trouble):
        alike.setdefault(each.code, []).append(each)
    return tuple(_line(code, group) for code, group in alike.items())


def by_time(trouble: Sequence[Trouble]) -> tuple[Trouble, ...]:
    """In order of their beginning; those that have none come last."""
    return tuple(
        sorted(trouble, key=lambda each: math.inf if each.start_s is None else each.start_s)
    )


def _line(code: str, group: list[Trouble]) -> str:
    kind = _KINDS.get(code)
    first = group[0]
    if len(group) == 1:
        said = f"{_when(first)}{sentence(first.message)}"
    else:
        what = code.replace("_", " ") if kind is None else kind["what"]
        said = f"{what} {len(group):,} times{_in_all(group)}{_first(first)}. The first: "
        said = f"{said[0].upper()}{said[1:]}{sentence(first.message)}"
    return said if kind is None else f"{said} {kind['so_what']}"


def _when(trouble: Trouble) -> str:
    if trouble.start_s is None:
        return ""
    lasting = "" if trouble.duration_s is None else f", for {seconds(trouble.duration_s)}"
    return f"At {seconds(trouble.start_s)}{lasting}: "


def _in_all(group: list[Trouble]) -> str:
    known_s = [each.duration_s for each in group if each.duration_s is not None]
    return f", {seconds(sum(known_s))} in all" if known_s else ""


def _first(first: Trouble) -> str:
    return "" if first.start_s is None else f", first at {seconds(first.start_s)}"
