"""Branches and sizings made up for tests, to cure the usual band of ``found_examples``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from analysis.basics.interval import Interval
from analysis.branches import (
    Branch,
    Can,
    HandMethod,
    LevelCurves,
    LossCurves,
    Prediction,
    Sensitivity,
    Sizing,
    Target,
    Tube,
    WeighedPlan,
)
from tests.analysis.report.found_examples import RPM, band, resonance_db


def branch(length_m: float = 0.772, position_m: float | None = 1.48, hz: float = 112.0) -> Branch:
    """Build a branch."""
    return Branch(
        length_m=length_m,
        tube=Tube(outer_diameter_m=0.05715, wall_m=0.001651, name="2.25 in x 0.065 in"),
        position_m=position_m,
        tuned_hz=hz,
        gas_temperature_k=413.15,
        end_correction_m=0.0102,
        shortest_m=length_m * 0.93,
        longest_m=length_m * 1.075,
        covers_low_hz=0.90 * hz,
        covers_high_hz=1.11 * hz,
        peak_loss_db=27.4,
        slide_m=Interval(low=length_m * 0.93, high=length_m * 1.075),
    )


def can_branch(length_m: float = 0.52, position_m: float | None = 1.48, hz: float = 94.8) -> Branch:
    """Build a branch with a can on a neck, as sized for one car of the garage benchmark."""
    can = Can(
        tube=Tube(outer_diameter_m=0.1016, wall_m=0.001651, name="4 in x 0.065 in"), neck_m=0.20
    )
    can_m = length_m - can.neck_m
    return replace(
        branch(length_m, position_m, hz),
        tube=Tube(outer_diameter_m=0.04445, wall_m=0.001651, name="1.75 in x 0.065 in"),
        can=can,
        shortest_m=can.neck_m + 0.80 * can_m,
        longest_m=can.neck_m + 1.19 * can_m,
        slide_m=Interval(low=can.neck_m + 0.80 * can_m, high=can.neck_m + 1.19 * can_m),
    )


@cache
def sizing(*branches: Branch) -> Sizing:
    """Build what `size` would give; one branch unless said otherwise."""
    branches = branches or (branch(),)
    target = band()
    frequency_hz = np.linspace(40.0, 320.0, 561)
    temperature_k = np.array([353.0, 383.0, 413.0, 443.0, 483.0])
    tuned_hz = branches[0].tuned_hz * np.sqrt(temperature_k / 413.0)[:, None]
    tangent = np.tan(0.5 * np.pi * frequency_hz / tuned_hz)
    loss_db = np.minimum(10.0 * np.log10(1.0 + (0.36 * tangent) ** 2), 27.4)
    before_db = resonance_db(RPM, (target,)) - 13.2
    hz = 3.0 * RPM / 60.0
    after_db = before_db - np.interp(hz, frequency_hz, loss_db[2])
    worst_db = before_db - np.minimum(
        np.interp(hz, frequency_hz, loss_db[0]), np.interp(hz, frequency_hz, loss_db[-1])
    )
    return Sizing(
        target=Target(
            engine_order=3.0,
            peak_hz=target.peak_hz,
            low_hz=target.low_hz,
            high_hz=target.high_hz,
        ),
        pipe_inner_diameter_m=0.0602,
        gas_temperature_k=Interval(low=353.15, high=483.15),
        branches=branches,
        spacing_m=0.85 if len(branches) == 2 else None,
        predicted=Prediction(
            level_change_db=-14.2,
            level_change_db_range=Interval(low=-18.0, high=-6.5),
            elsewhere_change_db=-1.2,
        ),
        sensitivity=Sensitivity(
            hz_per_kelvin=0.136,
            hz_per_mm=-0.143,
            hz_per_rpm=0.05,
            loss_db_per_10_kelvin=0.9,
            loss_db_per_10_mm=1.0,
            loss_db_per_20_rpm=0.6,
        ),
        hand_method=HandMethod(
            speed_of_sound_m_s=343.0,
            length_m=0.7656,
            really_tunes_hz=131.0,
            really_tunes_hz_range=Interval(low=121.0, high=142.0),
            level_change_db=-3.1,
        ),
        loss_curves=LossCurves(
            frequency_hz=frequency_hz,
            temperature_k=temperature_k,
            likely_index=2,
            loss_db=loss_db,
        ),
        level_curves=LevelCurves(
            rpm=RPM.copy(), before_db=before_db, after_db=after_db, after_worst_db=worst_db
        ),
        assumptions=("pipe gas at 300 °C (572 °F), because the car file does not say",),
        warnings=(),
    )


def weighed(name: str, welds: int, now: float, adjusted: float) -> WeighedPlan:
    """Build one plan beside others, not the chosen one."""
    return WeighedPlan(
        name=name,
        stations=welds,
        welds=welds,
        tube_m=0.7 * welds,
        level_change_db=-15.0 - welds,
        level_change_db_range=Interval(low=-22.0, high=-7.0 - 3.0 * welds),
        cured_now_share=now,
        cured_adjusted_share=adjusted,
        keeps_place="kept" in name,
        is_chosen=False,
    )


def with_plans() -> Sizing:
    """One branch, and a place kept for a second."""
    one = replace(weighed("one branch, a place kept for a second", 1, 0.88, 0.99), is_chosen=True)
    plans = (weighed("one branch", 1, 0.88, 0.93), one, weighed("two branches", 2, 0.98, 1.0))
    return replace(sizing(branch()), plans=plans, kept=branch(0.39, 0.36))


def on_pipes(one: Sizing, *legs: str) -> Sizing:
    """The same with each branch on all of these pipes."""
    return replace(one, branches=tuple(replace(each, legs=legs) for each in one.branches))
