"""Comparisons made up for tests, of the usual band of ``found_examples``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.basics.interval import Interval
from analysis.findings import Weighting
from analysis.verdicts import (
    BandChange,
    Comparison,
    Condition,
    DrivePart,
    LeftOut,
    LeftOutPart,
    Matching,
    OrderBeforeAfter,
    OverallBeforeAfter,
    PartChange,
    Trim,
    Verdict,
)
from tests.analysis.report.found_examples import RPM, band, resonance_db

_NAN = float("nan")

MATCHING = Matching(
    kept=(Condition.DIRECTION, Condition.GEAR),
    known=(Condition.DIRECTION, Condition.GEAR),
    left_out=(
        LeftOut(
            drive_name="baseline drive",
            sweeps=4,
            sweeps_compared=4,
            seconds=160.0,
            seconds_compared=160.0,
            parts=(),
        ),
        LeftOut(
            drive_name="post-fix drive",
            sweeps=6,
            sweeps_compared=4,
            seconds=230.0,
            seconds_compared=150.0,
            parts=(
                LeftOutPart(
                    reason="gear",
                    seconds=80.0,
                    what="the gear of 2,100 rpm at 100 km/h (62 mph)",
                ),
            ),
        ),
    ),
)

TRIM = Trim(
    branch=1,
    built_length_m=0.909,
    cut_m=0.020,
    ci95_m=Interval(low=0.014, high=0.026),
    works_at_hz=109.0,
    wanted_hz=112.0,
    gas_temperature_k=438.15,
    gas_temperature_ci95_k=Interval(low=432.0, high=444.5),
    is_worth_it=True,
)


def comparison(verdict: Verdict = Verdict.CURED, change_db: float = -14.2) -> Comparison:
    """Build what `compare` would give for one baseline band."""
    one = band()
    unknown = verdict is Verdict.CANNOT_TELL
    before_db = -46.0 + RPM / 700.0 + resonance_db(RPM, (one,))
    inside = np.exp(-0.5 * ((RPM - one.peak_rpm) / 260.0) ** 2)
    return Comparison(
        baseline_name="baseline drive",
        postfix_name="post-fix drive",
        changes=(
            BandChange(
                band=one,
                level_change_db=_NAN if unknown else change_db,
                ci95_db=Interval(
                    low=_NAN if unknown else change_db - 1.4,
                    high=_NAN if unknown else change_db + 1.3,
                ),
                verdict=verdict,
                why="the post-fix drive never reached this engine speed"
                if unknown
                else "the peak is within 3 dB of the trend",
                smallest_change_db=_NAN if unknown else 1.4,
            ),
        ),
        new_bands=(band(2900.0, rise_db=7.0),) if verdict is Verdict.MOVED else (),
        curves=(
            OrderBeforeAfter(
                engine_order=3.0,
                rpm=RPM.copy(),
                before_db=before_db,
                after_db=before_db + change_db * inside,
            ),
        ),
        trims=(TRIM,),
        warnings=(),
        overall=tuple(
            OverallBeforeAfter(
                weighting=weighting,
                rpm=RPM.copy(),
                before_db=before_db + offset_db,
                after_db=before_db + offset_db + 0.4 * change_db * inside,
            )
            for weighting, offset_db in (
                (Weighting.Z, 8.0),
                (Weighting.C, 7.0),
                (Weighting.A, -9.0),
            )
        ),
        parts=tuple(
            PartChange(
                part=part,
                weighting=weighting,
                low_rpm=low_rpm,
                high_rpm=high_rpm,
                before_db=-30.0,
                after_db=-33.0,
                change_db=-3.0,
                ci95_db=Interval(low=-5.6, high=-0.4),
                kept_alike=(Condition.DIRECTION, Condition.GEAR),
            )
            for weighting in Weighting
            for part, low_rpm, high_rpm in (
                (DrivePart.IDLE, 840.0, 860.0),
                (DrivePart.CRUISE, 2170.0, 2310.0),
                (DrivePart.WHOLE, 1210.0, 3390.0),
            )
        ),
        level_unit="dB re full scale",
        matching=MATCHING,
    )
