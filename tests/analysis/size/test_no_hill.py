"""No hill at the tail: a check comes before the cut, and what it decides is told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from analysis.basics.interval import Interval
from analysis.branches import Prediction, Sizing, Target, WeighedPlan
from analysis.build.workshop.card import how_many
from analysis.findings import TailSound
from analysis.report.answer import build_sentence, sized_blocks
from analysis.size.advice import MAY_BE_OTHER_WAY, NO_HILL, OTHER_WAY
from analysis.size.no_hill import heeding_tail
from analysis.size.request import SizingRequest
from analysis.size.size import size_branches
from analysis.words.foretold import foretold
from logger.command.sheets import no_sheets
from logger.command.tables.size import short_text

DRONE = Target(engine_order=3.0, peak_hz=112.0, low_hz=104.0, high_hz=121.0)


def at_tail(hill_there_db: float) -> TailSound:
    """A hill of 10 dB in the cabin, and one of this height at the tail."""
    hz = np.arange(60.0, 180.0)
    shape = 1.0 / (1.0 + ((hz - DRONE.peak_hz) / 8.5) ** 2)
    return TailSound(
        engine_order=3.0,
        rpm=20.0 * hz,
        ratio=(10.0 ** ((10.0 - hill_there_db) * shape / 20.0)).astype(np.complex128),
        sigma=np.full(hz.size, 0.05),
        tail_db=hill_there_db * shape,
    )


def sized(tail: TailSound | None) -> Sizing:
    return size_branches(SizingRequest(target=DRONE, tail=tail))


def test_what_settles_it_comes_first_and_the_branches_wait_for_it() -> None:
    """A cabin lifts what the pipe sends out, which branches take away; a shaken body does not."""
    sizing = sized(at_tail(1.0))
    first = sizing.warnings[0]
    assert first.code == NO_HILL
    assert sizing.predicted.level_change_db_range.high >= 0.0
    said = build_sentence(sizing)
    for part in ("Do not cut yet", "At the tail", "window open", "intake", "hangers"):
        assert part in said
    assert "Fit a" not in said
    assert "would make" not in said
    assert how_many(sizing).startswith("Only if it is the cabin")
    assert sized_blocks(sizing) != []
    assert no_sheets(sizing) == ""
    printed = io.StringIO()
    Console(file=printed, width=100).print(short_text(sizing))
    assert "Check first" in printed.getvalue()


def test_where_it_is_the_cabin_the_odds_of_the_plan_are_told() -> None:
    sizing = sized(None)
    plan = WeighedPlan(
        name="one branch",
        stations=1,
        welds=1,
        tube_m=0.7,
        level_change_db=-15.0,
        level_change_db_range=Interval(low=-20.0, high=-11.0),
        cured_now_share=0.87,
        cured_adjusted_share=0.98,
        keeps_place=False,
        is_chosen=True,
    )
    heeded = heeding_tail(replace(sizing, plans=(plan,)), at_tail(1.0))
    assert "cure that in 87 of 100" in heeded.warnings[0].message


@pytest.mark.parametrize("tail", [None, at_tail(10.0), at_tail(4.5)])
def test_a_hill_at_the_tail_too_or_one_that_does_not_tell_leaves_the_answer(
    tail: TailSound | None,
) -> None:
    assert NO_HILL not in {doubt.code for doubt in sized(tail).warnings}
    assert sized(tail).predicted == sized(None).predicted


def test_the_worst_that_is_foretold_is_no_change() -> None:
    sure = Prediction(
        level_change_db=-15.0,
        level_change_db_range=Interval(low=-20.0, high=-11.0),
        elsewhere_change_db=-1.0,
    )
    heeded = heeding_tail(replace(sized(None), predicted=sure), at_tail(1.0))
    assert heeded.predicted.level_change_db_range == Interval(low=-20.0, high=0.0)
    assert "(unchanged at worst, 20.0 dB at best)" in foretold(heeded.predicted)


def test_it_stands_in_place_of_what_the_curve_alone_makes_of_it() -> None:
    """That part of it passes the tail by is a guess, and here the tail was heard."""
    sizing = sized(None)
    doubt = sizing.warnings[0]
    for code in (OTHER_WAY, MAY_BE_OTHER_WAY):
        guessed = replace(sizing, warnings=(replace(doubt, code=code), *sizing.warnings))
        heeded = heeding_tail(guessed, at_tail(1.0))
        assert [each.code for each in heeded.warnings] == [
            NO_HILL,
            *(each.code for each in sizing.warnings),
        ]
