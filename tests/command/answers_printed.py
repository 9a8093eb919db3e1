"""A few answers as the command prints them: python -m tests.command.answers_printed.

One JSON document, to compare processors, or versions of a library, by.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import io
import json
from typing import Any

import analysis.find.drone
import pipenote
from tests.command_line import BASELINE, CAR
from tests.done_once import found_once

_ASKED = {
    "find": ("find", BASELINE),
    # one plain branch: two stretches of the demo's pipe lie within the noise of each other
    "size": ("size", BASELINE, "--car", CAR, "--branches", "1", "--no-can"),
}


def answers() -> dict[str, Any]:
    """Each command's document, by name."""
    documents = {}
    for name, words in _ASKED.items():
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            status = pipenote.main([*words, "--json"])
        assert status == 0
        documents[name] = json.loads(printed.getvalue())
    return documents


if __name__ == "__main__":
    analysis.find.drone.find_drone = found_once
    print(json.dumps(answers()))
