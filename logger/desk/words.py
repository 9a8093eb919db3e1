"""How what was typed into a form becomes options of a command."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable, Mapping


def option(name: str, value: str) -> list[str]:
    """Give an option with its value as one word, so that no value is taken for an option.

    Nothing where nothing was typed.
    """
    return [f"{name}={value}"] if value else []


def options(told: Mapping[str, str], rows: Iterable[tuple[str, str]]) -> list[str]:
    """Give an option for each field (first of a row) into which something was typed."""
    return [word for field, name in rows for word in option(name, told.get(field, ""))]
