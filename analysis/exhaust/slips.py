"""Slips of the pen in a car file: what is wrong in which line, and how to write it.

Asked only once the parser has refused a file, or the car has refused what it says, so a guess here
turns nothing that is right into something wrong.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Callable, Iterator

_LONGEST_SHOWN = 60  # judgement: signs of a line that are quoted; moves no answer
_QUOTES = str.maketrans(dict.fromkeys("“”„‟«»″＂", '"') | dict.fromkeys("‘’‚‛‹›′", "'"))
_CURLY = re.compile(r"[“”„‟«»″＂‘’‚‛‹›]")
_NAME = r"[A-Za-z][A-Za-z0-9_ -]*?"
_COLON = re.compile(rf"(?P<name>{_NAME})\s*:\s*(?P<value>.+)")
_PAIR = re.compile(rf"(?P<name>{_NAME})\s*=\s*(?P<value>.*)")
_NO_SIGN = re.compile(r"(?P<name>[A-Za-z_]+)\s+(?P<value>[^=\[\]]+)")
_HEADER = re.compile(r"(?P<open>\[{1,2})\s*(?P<name>[A-Za-z_. ]*?)\s*(?P<close>\]{0,2})")
_NUMBER = re.compile(r"[0-9]+")
_MEASURE = re.compile(
    r"""(?P<number>[0-9./ -]*[0-9](?:,[0-9]+)?)\s*(?P<unit>["'A-Za-z°]*[A-Za-z]*)"""
)
_WHOLE = ("cylinders", "rotors", "stroke_cycle")  # numbers that are written without quotes
_TABLES = ("engine", "exhaust", "room")
_UNQUOTED = re.compile(r"""\[\s*[0-9.]+ *[a-z]""")
_LISTS = ("exhaust.section", "exhaust.leg", "exhaust.leg.section", "exhaust.link", "room.place")
_LINE_OF_PARSER = re.compile(r"at line ([0-9]{1,6})")

# Where the car's own checks name what they refuse.
_UNKNOWN = re.compile(r"unknown key '(?P<key>[^']+)'")
_IN_SECTION = re.compile(r"(?:(?P<key>\w+) of )?section (?P<number>[0-9]{1,4})\b")
_FIRST_WORD = re.compile(r"(?:start of |end of )?(?P<key>\w+)")


def slip_in(text: str) -> str | None:
    """Name the first slip of a file that is no TOML; None where none is known."""
    seen: dict[tuple[str, str], int] = {}
    header = ""
    for number, line in enumerate(text.split("\n"), start=1):
        content = _without_comment(line)
        if not content:
            continue
        for rule in _RULES:
            if (said := rule(content)) is not None:
                return f"line {number}, {_shown(content)}: {said}"
        if content.startswith("["):
            # each [[table]] is a new one, and may have every name again
            header = str(number) if content.startswith("[[") else content
            key = (header, "")
        else:
            key = (header, content.partition("=")[0].strip())
        if key in seen:
            return (
                f"line {number}, {_shown(content)}: stands in line {seen[key]} already; "
                f"{_twice(content)}"
            )
        seen[key] = number
    return _open_bracket(text)


def unreadable_line(text: str, parser_says: str) -> str:
    """Say at least which line cannot be read; ``parser_says`` holds its number."""
    told = _LINE_OF_PARSER.search(parser_says)
    if told is None:
        return "a quote or a bracket is opened and never closed"
    number = int(told[1])
    line = text.split("\n")[number - 1]
    return (
        f"line {number}, {_shown(line)}, cannot be read; write one name = value a line, text in "
        'straight double quotes, like length = "1.60 m"'
    )


def with_line(text: str, refusal: str) -> str:
    """Put the number of the line in front of what the car refuses, where it can be found."""
    number = _line_named(text, refusal)
    return refusal if number is None else f"line {number}: {refusal}"


# --- rules: what is wrong with one line of a file that is no TOML, or None --------------------


def _curly_quotes(line: str) -> str | None:
    if _CURLY.search(line) is None:
        return None
    straight = line.translate(_QUOTES).replace("'", '"')
    return f"has curly quotes; write straight ones: {straight}"


def _other_comment(line: str) -> str | None:
    if line.startswith(("//", ";", "--", "/*")):
        return "is no comment here; begin a comment with #"
    return None


def _brackets(line: str) -> str | None:
    if (bare := line.strip(": ").lower()) in _TABLES:
        return f"is the name of a table; write [{bare}]"
    header = _HEADER.fullmatch(line)
    if header is None or not header["name"]:
        return None
    name = ".".join(re.split(r"[. ]+", header["name"].strip().lower()))
    right = f"[[{name}]]" if name in _LISTS else f"[{name}]"
    if line == right:
        return None
    if name in _LISTS or name in _TABLES or len(header["open"]) != len(header["close"]):
        return f"write {right}"
    return None


def _colon(line: str) -> str | None:
    pair = _COLON.fullmatch(line)
    if pair is None or "=" in line:
        return None
    return f"has a colon; write {_written(pair)}"


def _no_equals(line: str) -> str | None:
    pair = _NO_SIGN.fullmatch(line)
    if pair is None:
        return None
    return f"lacks the equals sign; write {_written(pair)}"


def _spaced_name(line: str) -> str | None:
    pair = _PAIR.fullmatch(line)
    if pair is None or " " not in pair["name"]:
        return None
    return f"has a space in its name; write {_written(pair)}"


def _backslash(line: str) -> str | None:
    if "\\" not in line or '"' not in line:
        return None
    return "has a backslash, which means something else here; write / in its place"


def _bare_value(line: str) -> str | None:
    """Find a value that lacks its quotes, or one of them, or has a comma for the point."""
    pair = _PAIR.fullmatch(line)
    if pair is None:
        return None
    value = pair["value"].strip()
    if not value:
        return "has no value; write one, or leave the line out"
    whole = value[0] == value[-1] and value[0] in "\"'" and value.count(value[0]) == 2
    if whole or _is_plain(value) or (value.startswith("[") and not _UNQUOTED.search(value)):
        return None
    return f"{_why_bare(pair['name'], value)}; write {_written(pair)}"


# Curly quotes first: the rules behind would take such a value for one without quotes.
_RULES: tuple[Callable[[str], str | None], ...] = (
    _curly_quotes,
    _other_comment,
    _brackets,
    _colon,
    _no_equals,
    _spaced_name,
    _backslash,
    _bare_value,
)


# --- how it should be written ---------------------------------------------------------------------


def _written(pair: re.Match[str]) -> str:
    """Write a name and its value as they should stand."""
    name, value = "_".join(pair["name"].strip().lower().split()), pair["value"].strip()
    if name in _WHOLE:
        digits = _NUMBER.search(value)
        return f"{name} = {int(digits[0])}" if digits else f"a number, as in {name} = 4"
    if name == "places":
        return 'places = [["0.3 m", "1.4 m"]]'
    return f"{name} = {_as_value(name, value.translate(_QUOTES))}"


def _as_value(name: str, value: str) -> str:
    """Text in straight quotes; of a length without a unit the likeliest one is shown."""
    inside = value.strip("\"'").strip()
    measure = _MEASURE.fullmatch(inside)
    if measure is None:
        return '"' + _shown(inside.replace('"', "")) + '"'
    number, unit = measure["number"].replace(",", ".").strip(), measure["unit"]
    if not unit:
        is_small = len(number.partition(".")[0]) < 2
        in_inches = value.endswith('"') and (value[0] != '"' or value.endswith('""'))
        unit = "in" if in_inches or (is_small and "diameter" in name) else "m" if is_small else "mm"
    return f'"{number} {unit}"'


def _why_bare(name: str, value: str) -> str:
    if name in _WHOLE:
        return "is no whole number"
    if name == "places":
        return "must be pairs of lengths in quotes"
    if value.count('"') == 1 or value.count("'") == 1:
        return "lacks one of its quotes"
    if "," in value and '"' not in value:
        return "has a comma for the point, and no quotes"
    if '"' not in value:
        return "has no quotes around its text"
    return "has something beside its value"


def _is_plain(value: str) -> bool:
    """Tell a number or a truth, which need no quotes."""
    if re.fullmatch(r"0[0-9]+", value):
        return False
    return bool(re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?|true|false", value))


def _open_bracket(text: str) -> str | None:
    """Last of all, as a list may go on in the next line: the first that does not end."""
    for number, line in enumerate(text.split("\n"), start=1):
        content = _without_comment(line)
        if content.count("[") > content.count("]"):
            return f"line {number}, {_shown(content)}: a bracket is opened and not closed"
    return None


def _twice(content: str) -> str:
    if content.startswith("["):
        return "put all of it under the first one"
    return "keep one of the two"


def _without_comment(line: str) -> str:
    """Leave out a comment, but not a # within quotes."""
    bare, quote = "", ""
    for sign in line:
        if sign == "#" and not quote:
            break
        if sign in "\"'" and quote in ("", sign):
            quote = "" if quote else sign
        bare += sign
    return bare.strip()


def _shown(line: str) -> str:
    line = line.strip()
    return line if len(line) <= _LONGEST_SHOWN else f"{line[:_LONGEST_SHOWN]}..."


# --- where the car's own checks point to ----------------------------------------------------------


def _line_named(text: str, refusal: str) -> int | None:
    lines = [_without_comment(line) for line in text.split("\n")]
    start, end = 0, len(lines)
    section = _IN_SECTION.search(refusal)
    if section is not None:
        heads = [i for i, line in enumerate(lines) if re.fullmatch(r"\[\[.*section\s*\]\]", line)]
        # each leg counts its own sections, and whose a head is stands nowhere in it
        if " of leg " in refusal or int(section["number"]) > len(heads):
            return None
        start = heads[int(section["number"]) - 1]
        end = next((i for i in range(start + 1, end) if lines[i].startswith("[")), end)
    named = _UNKNOWN.search(refusal) or section or _FIRST_WORD.match(refusal)
    key = named["key"] if named else None
    if key is None:
        return None if section is None else start + 1
    return next(_lines_with(lines, key, start, end), None)


def _lines_with(lines: list[str], key: str, start: int, end: int) -> Iterator[int]:
    begins = re.compile(rf"\[*\s*\"?{re.escape(key)}\"?\s*[\].=]|\[+.*\.\s*{re.escape(key)}\s*\]+")
    return (i + 1 for i in range(start, end) if begins.match(lines[i]))
