"""Every number at the top level of a module says where it is from, or that it is a judgement.

It says so on its own lines, in the comment right above it, or in the comment above the first of a
run of assignments in which it stands, no blank line or other comment between. A source is a
standard, a paper with its year, a definition, a file format, a benchmark of ours, or "common
practice, no source". Without one it says ``judgement:`` and what it does to the answer. In a module
that only draws, a sentence in its docstring may say so for all: "Sizes are judgement: ...".

Nothing need be said of 0, 1, 2 and one half; of powers of two from 256 (buffers); of the numbers
that turn one unit into another by definition; of the version of a format of ours; and of the keys
of a table.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

# Seconds in a minute, an hour, a day; thousands; zero Celsius and Fahrenheit in kelvins; inch, foot
# in metres or millimetres; km/h in m/s; degrees Fahrenheit in a kelvin.
OF_UNITS = {60, 3600, 86_400, 1000, 1_000_000, 1e-3, 273.15, 459.67, 25.4, 0.0254, 0.3048, 3.6, 1.8}
SOURCES = (
    r"\b(ISO|IEC|DIN|SAE|IEEE|AES\d+|NMEA|RFC|JASA|Annex|Cantera|Birmingham|OBD-II|termios|RIFF|POSIX)\b",
    r"\b(18|19|20)\d\d\b",  # the year of a book or paper
    r"\bdefinition|\bexact\b|common practice, no source|from memory",
    r"tests/benchmarks/\w+",
)
JUDGED = r"judgement(, [^:.]{1,40})?:\s+\S+(\s+\S+){2,}"  # with words about what it does


def unsaid(text: str) -> list[str]:
    """Names of the constants in a module's source that say neither source nor judgement."""
    tree = ast.parse(text)
    whole = re.sub(r"\s+", " ", ast.get_docstring(tree) or "")
    if "sizes are judgement: " in whole.lower():
        return []
    comments = comments_of(text)
    alone = {line for line in comments if text.splitlines()[line - 1].lstrip().startswith("#")}
    names = []
    block, last = "", 0
    for statement in tree.body:
        if not isinstance(statement, ast.Assign | ast.AnnAssign) or statement.value is None:
            continue
        first = statement.lineno
        above = [line for line in range(last + 1, first) if line in alone]
        start = first
        while start - 1 in alone:
            start -= 1
        if start < first:
            block = " ".join(comments[line] for line in range(start, first))
        elif above or last + 1 != first:
            block = ""
        last = statement.end_lineno or first
        inside = " ".join(comments.get(line, "") for line in range(first, last + 1))
        names += [
            name
            for name in assigned(statement)
            if needs_word(name, statement.value) and not says(f"{block} {inside}")
        ]
    return names


def comments_of(text: str) -> dict[int, str]:
    """Comments by their line."""
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return {t.start[0]: t.string.lstrip("# ") for t in tokens if t.type == tokenize.COMMENT}


def assigned(statement: ast.Assign | ast.AnnAssign) -> list[str]:
    targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
    return [node.id for t in targets for node in ast.walk(t) if isinstance(node, ast.Name)]


def says(comment: str) -> bool:
    return any(re.search(pattern, comment, re.IGNORECASE) for pattern in (*SOURCES, JUDGED))


def needs_word(name: str, value: ast.expr) -> bool:
    return not name.endswith("VERSION") and any(not is_plain(each) for each in numbers(value))


def numbers(value: ast.expr) -> Iterator[float]:
    """Numbers in what a name is set to; not those that look something up."""
    keys = {id(key) for node in ast.walk(value) if isinstance(node, ast.Dict) for key in node.keys}
    skipped = keys | {id(n.slice) for n in ast.walk(value) if isinstance(n, ast.Subscript)}
    shifts = (n for n in ast.walk(value) if isinstance(getattr(n, "op", None), ast.LShift))
    skipped |= {id(part) for shift in shifts for part in ast.walk(shift)}
    for node in ast.walk(value):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, int | float)
            and not isinstance(node.value, bool)
            and id(node) not in skipped
        ):
            yield node.value


def is_plain(number: float) -> bool:
    size = abs(number)
    is_buffer = isinstance(size, int) and size >= 256 and size & (size - 1) == 0
    return size in (0, 1, 2, 0.5) or size in OF_UNITS or is_buffer


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = [path for top in ("analysis", "logger") for path in sorted((ROOT / top).rglob("*.py"))]


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_each_constant_says_where_it_is_from(path: Path) -> None:
    assert not unsaid(path.read_text(encoding="utf-8"))


def test_what_says_nothing_is_seen() -> None:
    text = '''"""A module."""
# Why the module is so.

_SAID = 0.3  # judgement: more than this is another line; 20 % more moves no peak
_BARE = 0.3
_LABELLED = 0.3  # of engine speed
_JUDGED_NO_MORE = 0.3  # judgement: usual
_FIRST, _SECOND = 0.3, (3, 4.5)

# Phys. Rev. 73 (1948) 383
_OF_PAPER = 0.6133
_TOO = 0.82  # the same, with a flange
# and now something else
_NOT_OF_PAPER = 0.7

_AFTER_A_GAP = 0.7
_MINUTE_S, _INCH_M, _BYTES, _HALF = 60.0, 0.0254, 1 << 20, 0.5
_TABLE = {3: "three"}
'''
    bare = ["_BARE", "_LABELLED", "_JUDGED_NO_MORE", "_FIRST", "_SECOND"]
    assert unsaid(text) == [*bare, "_NOT_OF_PAPER", "_AFTER_A_GAP"]


def test_a_module_that_only_draws_says_it_once() -> None:
    text = '''"""A drawing.

Sizes are judgement: what
looks right; they move no answer.
"""
_GAP_MM = 7.0
'''
    assert not unsaid(text)
    assert unsaid(text.replace("judgement", "guessed")) == ["_GAP_MM"]
