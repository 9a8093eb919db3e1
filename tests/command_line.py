"""A command line run as the shell would, and what it may print."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import hashlib
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


def fingerprint(folder: Path) -> dict[str, str]:
    """What each file of a folder holds, hashed."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}
