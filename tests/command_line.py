"""A command line run as the shell would, and what it may print."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from tests.result_schemas import result_schema

SESSIONS = Path(__file__).parents[1] / "recorded_sessions"
BASELINE, POSTFIX = str(SESSIONS / "baseline"), str(SESSIONS / "postfix")
OLD_LEVELS, CAR = str(SESSIONS / "old_levels"), str(SESSIONS / "car.toml")


@dataclass(frozen=True)
class Result:
    status: int
    out: str
    err: str


Run = Callable[..., Result]


def only_document(result: Result, schema: str) -> dict[str, Any]:
    """The one JSON document on standard output; nothing else may be said anywhere."""
    assert (result.status, result.err) == (0, "")
    document: dict[str, Any] = json.loads(result.out)
    Draft202012Validator(result_schema(schema)).validate(document)
    return document


def fingerprint(folder: Path) -> dict[str, tuple[int, int, int]]:
    """Each file of a folder, as what is written or replaced changes it: size, time and inode."""
    files = [(path, path.stat()) for path in sorted(folder.rglob("*")) if path.is_file()]
    return {str(path): (at.st_size, at.st_mtime_ns, at.st_ino) for path, at in files}
