"""What the terminal says of a sizing unless it is asked for all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from analysis.findings import Doubt
from analysis.size.advice import NO_CURE
from logger.command.tables.size import short_text, size_text
from tests.analysis.report.examples import every_case

SIZED = {name: case.sizing for name, case in every_case().items() if case.sizing is not None}
_ADVICE = Doubt(code="may_whistle", message="A branch can sing: listen for it.", is_advice=True)
_DOUBT = Doubt(code="exhaust_misses_drive", message="The car file does not sound so: check it.")
SIZED |= {
    "advised": replace(SIZED["drone"], warnings=(_ADVICE,)),
    "doubted": replace(SIZED["drone"], warnings=(_DOUBT, _ADVICE)),
}
MOST_LINES = 15


@pytest.mark.parametrize("name", SIZED)
def test_it_fits_into_fifteen_lines(name: str) -> None:
    sizing = SIZED[name]
    assert sizing is not None
    out = io.StringIO()
    Console(file=out, width=80).print(short_text(sizing))
    lines = out.getvalue().splitlines()
    words = " ".join(out.getvalue().split())
    assert len(lines) <= MOST_LINES, out.getvalue()
    assert "--full" in words
    assert ("weld it at" in words) == (name != "no-cure")
    assert ("Best found would make the drone" in words) == (name == "no-cure")
    assert ("Drone after" in words) == (name != "no-cure" and not sizing.others)
    assert ("Look out" in words) == any(doubt.code != NO_CURE for doubt in sizing.doubts)
    for warning in sizing.warnings[1:]:  # all are there when asked for
        assert warning.message not in words
    full = io.StringIO()
    Console(file=full, width=2000).print(size_text(sizing))
    assert all(warning.message in full.getvalue() for warning in sizing.warnings)
