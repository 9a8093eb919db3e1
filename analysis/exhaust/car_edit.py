"""Put one value into a car file's text and leave every other character as it is."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import tomllib

from analysis.errors import CarError

_EXHAUST = re.compile(r"\s*\[\s*exhaust\s*\]\s*(#.*)?")
KEY = "branch_gas_temperature"  # of the gas in a branch, under [exhaust]
_ENTRY = re.compile(rf"""(\s*{KEY}\s*=\s*)("[^"]*"|'[^']*')(.*)""", re.DOTALL)


def with_branch_gas(text: str, value: str) -> str:
    """Give the text of a car file with this gas temperature in the branch.

    Comments, order and line ends stay. The result is read back: it must say what the file said,
    and the new value.

    Raises
    ------
    CarError
        The text is no TOML, or writes its exhaust in a way that is not edited here.
    """
    edited = "\n".join(_edited(text.split("\n"), value))
    try:
        before, after = tomllib.loads(text), tomllib.loads(edited)
    except tomllib.TOMLDecodeError as error:
        raise _by_hand(value) from error
    exhaust = before.get("exhaust", {})
    # read back as a whole: a car file may be written in ways that lines of text do not show
    if not isinstance(exhaust, dict) or after != {**before, "exhaust": {**exhaust, KEY: value}}:
        raise _by_hand(value)
    return edited


def _edited(lines: list[str], value: str) -> list[str]:
    """Edit lines that may still end in a carriage return."""
    end = "\r" if lines[0].endswith("\r") else ""
    new = f'{KEY} = "{value}"{end}'
    at = next((i for i, line in enumerate(lines) if _EXHAUST.fullmatch(line)), None)
    if at is None:
        last = lines.pop()
        return [*lines, *([last + end] if last else []), end, f"[exhaust]{end}", new, ""]
    for index in range(at + 1, len(lines)):
        if lines[index].lstrip().startswith("["):
            break
        if (entry := _ENTRY.fullmatch(lines[index])) is not None:
            return [*lines[:index], f'{entry[1]}"{value}"{entry[3]}', *lines[index + 1 :]]
    return [*lines[: at + 1], new, *lines[at + 1 :]]


def _by_hand(value: str) -> CarError:
    return CarError(
        f'this car file cannot be edited for you; put {KEY} = "{value}" under its [exhaust] by hand'
    )
