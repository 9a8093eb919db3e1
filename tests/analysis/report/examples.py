"""Contents of the page made up for its tests, from found, sized and compared examples."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from analysis.branches import Sizing
from analysis.drive import Trouble
from analysis.findings import Doubt, Findings, LockedTo
from analysis.listen.with_branches import Listening
from analysis.report.contents import Provenance, ReportContents
from analysis.size.advice import NO_CURE
from analysis.verdicts import Comparison, Verdict
from tests.analysis.report.compared_examples import comparison
from tests.analysis.report.found_examples import band, findings, levels_only, one_gear_doubts
from tests.analysis.report.sized_examples import branch, can_branch, on_pipes, sizing, with_plans

PROVENANCE = Provenance(
    software_version="0.1.0",
    command="pipenote report baseline --car car.toml --out report.html",
    made_at_utc=datetime(2026, 5, 4, 9, 30, tzinfo=UTC),
    inputs=("baseline", "car.toml"),
    versions=(("numpy", "2.4.6"), ("scipy", "1.17.1"), ("plotly", "7.1.0")),
)


_NOTHING_FITS = Doubt(code=NO_CURE, message="do not cut yet: nothing that fits is sure to cure it")


def contents(
    found: Findings,
    sized: Sizing | None = None,
    compared: Comparison | None = None,
    postfix: Findings | None = None,
) -> ReportContents:
    """Put the pieces together."""
    return ReportContents(
        findings=found,
        sizing=sized,
        comparison=compared,
        postfix=postfix,
        provenance=PROVENANCE,
    )


def every_case() -> dict[str, ReportContents]:
    """Every kind of page."""
    drone = findings(
        band(),
        band(1500.0, order=1.5, rise_db=7.0),
        warnings=one_gear_doubts(),
        trouble=(Trouble(code="audio_gap", message="12 ms lost", start_s=31.2, duration_s=0.012),),
    )
    post = findings(name="post-fix drive")
    pair = (branch(0.80, 1.0, 108.0), branch(0.74, 1.85, 117.0))
    tone = 0.5 * np.sin(2.0 * np.pi * 112.0 * np.arange(80_000) / 8000.0)
    heard = Listening(
        as_recorded=tone, with_branches=0.2 * tone, rate_hz=8000.0, start_s=31.0, rpm=(2100, 2400)
    )
    return {
        "drone": replace(contents(drone, sizing()), heard=heard),
        "two-branches": contents(drone, sizing(*pair)),
        "place-kept": contents(drone, with_plans()),
        "two-cans": contents(drone, sizing(can_branch(), can_branch(0.70, 2.33, 74.0))),
        "on-each-pipe": contents(drone, on_pipes(sizing(*pair), "left", "right")),
        "no-cure": contents(drone, replace(sizing(*pair), warnings=(_NOTHING_FITS,))),
        "short-can": contents(drone, sizing(can_branch(0.305, hz=140.0))),
        "not-sized": contents(drone),
        "quiet": contents(findings()),
        "road": contents(findings(band(locked_to=LockedTo.ROAD))),
        "unknown": contents(findings(band(locked_to=LockedTo.UNKNOWN)), sizing()),
        "levels-only": contents(levels_only()),
        "cured": contents(drone, sizing(), comparison(), post),
        "unchanged": contents(drone, sizing(), comparison(Verdict.UNCHANGED, -0.3), drone),
        "moved": contents(drone, sizing(), comparison(Verdict.MOVED, -9.0), drone),
        "cannot-tell": contents(drone, sizing(), comparison(Verdict.CANNOT_TELL), post),
    }
