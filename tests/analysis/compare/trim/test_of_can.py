"""What to trim off a can on a neck: the can, and how far."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from analysis.answers.documents import comparison_document
from analysis.basics.interval import Interval
from analysis.branches import Can, Tube
from analysis.compare.trim.branch_at_work import WorkingBranch
from analysis.compare.trim.built import BuiltBranch
from analysis.compare.trim.by_frequency import trim_to
from tests.analysis.report.compared_examples import TRIM, comparison
from tests.garage.gas import state

NECK_BORE_M, CAN_BORE_M, NECK_M = 0.0475, 0.0982, 0.200
CANNED = BuiltBranch(
    length_m=0.700,
    end_correction_m=0.010,
    bore_m=NECK_BORE_M,
    wanted_hz=80.0,
    can=Can(tube=Tube(outer_diameter_m=0.1016, wall_m=0.0017, name="4 in"), neck_m=NECK_M),
)


def resonance_hz(can_m: float, gas_c: float) -> float:
    """Neck and can without losses, ``m tan(k l) tan(k L) = 1``: Kinsler et al., Fundamentals of
    Acoustics, ch. 10 (from memory)."""
    speed = float(state(np.asarray(gas_c)).speed_m_s)
    # Both ends of the neck move some gas more: 10 mm at the pipe, 8/(3 pi) b (1 - 1.25 b/B) here.
    inside_m = 4.0 / (3.0 * np.pi) * NECK_BORE_M * (1.0 - 1.25 * NECK_BORE_M / CAN_BORE_M)
    neck_m = NECK_M + CANNED.end_correction_m + inside_m
    ratio = (CAN_BORE_M / NECK_BORE_M) ** 2

    def off(hz: float) -> float:
        turn = 2.0 * np.pi * hz / speed
        return float(ratio * np.tan(turn * neck_m) * np.tan(turn * can_m) - 1.0)

    return float(brentq(off, 20.0, 0.24 * speed / max(neck_m, can_m)))


def test_the_can_is_cut_and_the_neck_stays() -> None:
    works_hz = 75.0
    at_work = WorkingBranch(tuned_hz=works_hz, ci95_hz=Interval(low=74.7, high=75.3))
    trim = trim_to(1, CANNED, at_work)
    assert trim.neck_m == NECK_M
    assert trim.part_m == pytest.approx(0.500)
    gas_c = brentq(lambda c: resonance_hz(trim.part_m, c) - works_hz, 25.0, 590.0)
    sawn_hz = resonance_hz(trim.part_m - trim.cut_m, gas_c)
    assert sawn_hz == pytest.approx(CANNED.wanted_hz, rel=0.003)


def test_the_document_names_the_neck() -> None:
    trims = comparison_document(replace(comparison(), trims=(replace(TRIM, neck_m=NECK_M),)))[
        "trim"
    ]
    assert isinstance(trims, list)
    assert isinstance(trims[0], dict)
    assert trims[0]["neck_mm"] == pytest.approx(200.0)
