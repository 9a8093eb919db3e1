"""The codes that the modules of a folder name, read from their source."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]


def codes_named_in(folder: str) -> frozenset[str]:
    """Every text given as ``code``: by keyword, or by place to a function that takes a ``code``."""
    trees = [ast.parse(path.read_text("utf-8")) for path in sorted((ROOT / folder).rglob("*.py"))]
    nodes = [node for tree in trees for node in ast.walk(tree)]
    places = {}
    for node in nodes:
        if isinstance(node, ast.FunctionDef):
            names = [each.arg for each in node.args.args if each.arg != "self"]
            if "code" in names:
                places[node.name] = names.index("code")
    calls = (node for node in nodes if isinstance(node, ast.Call))
    given = (value for call in calls for value in _given_as_code(call, places))
    return frozenset(
        part.value
        for value in given
        for part in ([value.body, value.orelse] if isinstance(value, ast.IfExp) else [value])
        if isinstance(part, ast.Constant) and isinstance(part.value, str)
    )


def _given_as_code(call: ast.Call, places: dict[str, int]) -> Iterator[ast.expr]:
    yield from (each.value for each in call.keywords if each.arg == "code")
    name = call.func.attr if isinstance(call.func, ast.Attribute) else ""
    yield from call.args[places[name] : places[name] + 1] if name in places else ()
