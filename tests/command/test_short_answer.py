"""What the terminal says of a sizing unless it is asked for all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from analysis.branches import OtherDrone, Sizing
from analysis.findings import Doubt
from analysis.size.advice import NO_CURE
from analysis.words.shown import Units, showing
from logger.command.tables.size import short_text, size_text
from tests.analysis.report.examples import every_case
from tests.analysis.report.sized_examples import branch, on_pipes

SIZED = {name: case.sizing for name, case in every_case().items() if case.sizing is not None}
_ADVICE = Doubt(code="may_whistle", message="A branch can sing: listen for it.", is_advice=True)
_LONG_DOUBT = Doubt(
    code="few_guesses_fit",
    message="Few exhausts like this car file's fit the drive. Only about 34 of those tried do so "
    "well, so worse ones count too.",
)


def _two_drones(sizing: Sizing) -> Sizing:
    """Let the branches be for a second drone too, and plans be weighed, with a doubt."""
    other = OtherDrone(
        target=replace(sizing.target, peak_hz=89.4),
        predicted=sizing.predicted,
        is_planned_for=False,
    )
    return replace(
        sizing, others=(other,), plans=SIZED["place-kept"].plans, warnings=(_LONG_DOUBT,)
    )


_DOUBT = Doubt(code="exhaust_misses_drive", message="The car file does not sound so: check it.")
SIZED |= {
    "advised": replace(SIZED["drone"], warnings=(_ADVICE,)),
    "doubted": replace(SIZED["drone"], warnings=(_DOUBT, _ADVICE)),
    "kept-doubted": replace(SIZED["place-kept"], warnings=(_LONG_DOUBT,)),
    "kept-on-each-pipe": replace(
        on_pipes(SIZED["place-kept"], "left", "right"),
        kept=replace(branch(0.39, 0.36), legs=("left", "right")),
        warnings=(_LONG_DOUBT,),
    ),
    "two-drones": _two_drones(SIZED["on-each-pipe"]),
}
MOST_LINES = 15


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("name", SIZED)
def test_it_fits_into_fifteen_lines(name: str, units: Units) -> None:
    sizing = SIZED[name]
    assert sizing is not None
    out = io.StringIO()
    with showing(units):
        Console(file=out, width=80).print(short_text(sizing))
    lines = out.getvalue().splitlines()
    words = " ".join(out.getvalue().split())
    assert len(lines) <= MOST_LINES, out.getvalue()
    assert "--full" in words
    assert ("weld it at" in words) == (name != "no-cure")
    assert ("At best the best branches found would make the drone" in words) == (name == "no-cure")
    assert ("Drone after" in words) == (name != "no-cure" and not sizing.others)
    assert ("Look out" in words) == any(doubt.code != NO_CURE for doubt in sizing.doubts)
    for warning in sizing.warnings[1:]:  # all are there when asked for
        assert warning.message not in words
    full = io.StringIO()
    Console(file=full, width=2000).print(size_text(sizing))
    assert all(warning.message in full.getvalue() for warning in sizing.warnings)
