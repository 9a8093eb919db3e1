"""From the bytes of a car file to plain data, within bounds; a slip is named, with its line."""
# SPDX-License-Identifier: GPL-2.0-or-later

import codecs
import tomllib

from analysis.errors import CarError
from analysis.exhaust.slips import slip_in, unreadable_line

# judgement: a car file has 1 or 2 kB and lines of 100 signs. More is refused before it is parsed:
# a name of 20,000 parts in a file of 40 kB takes the parser 2.5 GB.
LARGEST_FILE_BYTES = 64_000
_LONGEST_LINE = 400
_MOST_PARTS = 20  # of one name; judgement: a car file's have three
_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def read_toml(data: bytes) -> dict[str, object]:
    """Read a car file's content.

    Raises
    ------
    CarError
        It is too large, no text or no TOML: what is wrong, in which line, and how to write it.
    """
    if len(data) > LARGEST_FILE_BYTES:
        raise CarError(f"it is over {LARGEST_FILE_BYTES // 1000} kB; that is not a car file")
    text = text_of(data)
    # before it is parsed: a name of many parts costs the parser gigabytes
    _check_lines(text)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CarError(slip_in(text) or unreadable_line(text, str(error))) from error
    except (RecursionError, ValueError) as error:  # too deep, or a number of thousands of digits
        raise CarError("it is nested too deep, or holds a number too long to be one") from error


def decoded(data: bytes) -> str:
    """Decode as editors save text; only the marks of other encodings are believed.

    Raises
    ------
    CarError
        It is no text.
    """
    is_utf_16 = data.startswith(_UTF_16)
    if b"\0" in data and not is_utf_16:
        raise CarError("it is no text; a car file is plain text, as a plain editor saves it")
    try:
        return data.decode("utf-16" if is_utf_16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        number = data.count(b"\n", 0, error.start) + 1
        raise CarError(
            f"line {number} holds a sign that is not UTF-8, perhaps a degree sign or a curly "
            "quote; write degC and straight quotes, or save the file as plain text in UTF-8"
        ) from error


def text_of(data: bytes) -> str:
    """Decode, and let all lines end alike.

    Raises
    ------
    CarError
        As :func:`decoded`.
    """
    return decoded(data).replace("\r\n", "\n").replace("\r", "\n")


def _check_lines(text: str) -> None:
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > _LONGEST_LINE:
            raise CarError(
                f"line {number} has {len(line):,} signs; no line of a car file has over "
                f"{_LONGEST_LINE}"
            )
        if line.partition("#")[0].partition("=")[0].count(".") >= _MOST_PARTS:
            raise CarError(
                f"line {number} names something with over {_MOST_PARTS} dots; a table is written "
                "like [[exhaust.section]]"
            )
