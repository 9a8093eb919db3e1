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
    set_here = [s for s in tree.body if isinstance(s, ast.Assign | ast.AnnAssign) and s.value]
    last_needed = max((end_of(s) for s in set_here if names_to_explain(s)), default=0)
    whole = re.sub(r"\s+", " ", ast.get_docstring(tree) or "").lower()
    if not last_needed or "sizes are judgement: " in whole:
        return []
    lines = text.splitlines(keepends=True)[:last_needed]
    comments = comments_of("".join(lines))
    alone = {line for line in comments if lines[line - 1].startswith("#")}
    names: list[str] = []
    block, last = "", 0
    for statement in (s for s in set_here if end_of(s) <= last_needed):
        first = start = statement.lineno
        while start - 1 in alone:
            start -= 1
        if start < first:
            block = " ".join(comments[line] for line in range(start, first))
        elif last + 1 != first:
            block = ""
        last = end_of(statement)
        own = " ".join(comments.get(line, "") for line in range(first, last + 1))
        names += [] if says(f"{block} {own}") else names_to_explain(statement)
    return names


def end_of(statement: ast.stmt) -> int:
    return statement.end_lineno or statement.lineno


def names_to_explain(statement: ast.Assign | ast.AnnAssign) -> list[str]:
    """Names set to more than plain numbers."""
    if statement.value is None or all(map(is_plain, numbers(statement.value))):
        return []
    targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
    names = [node.id for t in targets for node in ast.walk(t) if isinstance(node, ast.Name)]
    return [name for name in names if not name.endswith("VERSION")]


def comments_of(text: str) -> dict[int, str]:
    """Comments by their line."""
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return {t.start[0]: t.string.lstrip("# ") for t in tokens if t.type == tokenize.COMMENT}


def says(comment: str) -> bool:
    return any(re.search(pattern, comment, re.IGNORECASE) for pattern in (*SOURCES, JUDGED))


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


def test_each_constant_says_where_it_is_from() -> None:
    modules = [path for top in ("analysis", "logger") for path in (ROOT / top).rglob("*.py")]
    assert len(modules) > 100
    bare = {str(path.relative_to(ROOT)): unsaid(path.read_text("utf-8")) for path in modules}
    assert {path: names for path, names in bare.items() if names} == {}


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
