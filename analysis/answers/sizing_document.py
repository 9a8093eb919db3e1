"""JSON document of ``size``; its schema is ``schemas/size.schema.json``.

Lengths to 0.1 mm, frequencies and temperatures to 0.1, levels to 0.1 dB; unknown values are null.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from itertools import zip_longest

from analysis.answers.documents import SCHEMA_VERSION
from analysis.answers.json_values import Json, celsius, millimetres, number, picked
from analysis.basics.interval import Interval
from analysis.basics.units import INCH_M
from analysis.branches import (
    Branch,
    ByThumb,
    Can,
    OtherDrone,
    OtherWay,
    Sizing,
    Target,
    WeighedPlan,
)
from analysis.build.workshop.card import plans_of
from analysis.build.workshop.plan import AS_USUAL, BranchPlan, BuildWishes
from analysis.findings import Doubt
from analysis.words.lengths import sixteenths

_CHANGE = ("level_change_db", "level_change_db_range")  # of whatever foretells one


def sizing_document(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> dict[str, Json]:
    """Give what ``size --json`` prints, as plain data; ``wishes`` shape the branches."""
    cost = sizing.sensitivity
    return {
        "schema": SCHEMA_VERSION,
        "target": _target(sizing.target),
        "other_drones": list(map(_other_drone, sizing.others)),
        "pipe_inner_diameter_mm": _millimetres(sizing.pipe_inner_diameter_m),
        "gas_temperature_c_range": celsius(sizing.gas_temperature_k, 1),
        "branches": _to_weld(sizing.branches, plans_of(sizing, wishes)),
        "as_good": [_to_weld(branches) for branches in sizing.as_good],
        "by_rule_of_thumb": _by_thumb(sizing.by_thumb),
        "kept_place": [] if sizing.kept is None else _to_weld((sizing.kept,)),
        "plans": list(map(_plan, sizing.plans)),
        "other_way": _other_way(sizing.other_way),
        "spacing_mm": _millimetres(sizing.spacing_m),
        "predicted": picked(sizing.predicted, *_CHANGE, "elsewhere_change_db", decimals=1),
        "sensitivity": {
            **picked(cost, "hz_per_kelvin", "hz_per_mm", "hz_per_rpm", decimals=4),
            **picked(cost, "loss_db_per_10_kelvin", "loss_db_per_10_mm", decimals=2),
            **picked(cost, "loss_db_per_20_rpm", decimals=2),
        },
        "hand_method": _hand_method(sizing),
        **picked(sizing, "gains", "assumptions"),
        "warnings": list(map(_warning, sizing.warnings)),
    }


def _warning(warning: Doubt) -> Json:
    """Give one warning; what goes with nearly every branch is told apart from doubts."""
    kind = "advice" if warning.is_advice else "doubt"
    return {"code": warning.code, "kind": kind, "message": warning.message}


def _target(target: Target) -> dict[str, Json]:
    return picked(target, "engine_order", "peak_hz", "low_hz", "high_hz", decimals=2)


def _other_drone(other: OtherDrone) -> Json:
    return {
        **_target(other.target),
        **picked(other.predicted, *_CHANGE, decimals=1),
        "planned_for": other.is_planned_for,
    }


def _other_way(measured: OtherWay | None) -> Json:
    if measured is None:
        return None
    share, low, high = (
        number(100.0 * part, 1) for part in (measured.share, measured.span.low, measured.span.high)
    )
    return {"percent": share, "percent_range": [low, high]}


def _by_thumb(thumb: ByThumb | None) -> Json:
    if thumb is None:
        return None
    return {
        "upstream_of_last_muffler_mm": _millimetres(thumb.quarter_m),
        "made_up_cars": thumb.cars,
        "cured": thumb.cured,
        "louder_elsewhere": thumb.louder,
    }


def _plan(plan: WeighedPlan) -> Json:
    return {
        "name": plan.name,
        "branches": plan.welds,
        "cured_now_percent": round(100.0 * plan.cured_now_share),
        "cured_after_one_adjustment_percent": round(100.0 * plan.cured_adjusted_share),
        **picked(plan, *_CHANGE, decimals=1),
        "tube_mm": _millimetres(plan.tube_m),
        "places": plan.stations,
        "keeps_place": plan.keeps_place,
        "chosen": plan.is_chosen,
    }


def _to_weld(branches: tuple[Branch, ...], plans: Sequence[BranchPlan | None] = ()) -> list[Json]:
    """List every branch to weld, once for each pipe that gets one, pipe by pipe.

    ``plans`` of the branches give their shapes; without them, none is told.
    """
    every: list[tuple[str | None, Json]] = []
    for branch, plan in zip_longest(branches, plans):
        shape = {"shape": None if plan is None else _shape(plan)} if plans else {}
        every += [(leg, {**_branch(branch, leg), **shape}) for leg in branch.legs or (None,)]
    names = list(dict.fromkeys(leg for leg, _ in every))
    return [branch for name in names for leg, branch in every if leg == name]


def _shape(plan: BranchPlan) -> dict[str, Json]:
    """Tell how it is bent; with a can, that of its neck."""
    fold = plan.fold
    return {
        "bends_deg": [number(math.degrees(turn), 0) for turn in fold.turn_rad],
        "bend_radius_mm": _millimetres(fold.bend_radius_m) if fold.turn_rad else None,
        "straights_mm": [_millimetres(straight_m) for straight_m in fold.straight_m],
        "bends_take_mm": _millimetres(fold.bends_take_m),
        "end_along_middle_mm": _millimetres(plan.centreline_m),
    }


def _branch(branch: Branch, leg: str | None) -> dict[str, Json]:
    cap = branch.cap
    out_m = None if cap is None else Interval(low=cap.start_m, high=cap.furthest_m)
    return {
        "leg": leg,
        "length_mm": _millimetres(branch.length_m),
        "length_in": number(branch.length_m / INCH_M, 2),
        "length_in_sixteenths": sixteenths(branch.length_m),
        "slide_mm": _millimetres(branch.slide_m),
        "sleeve_out_mm": _millimetres(out_m),
        "length_mm_range": [_millimetres(branch.shortest_m), _millimetres(branch.longest_m)],
        "inner_diameter_mm": millimetres(branch.tube.inner_diameter_m, 2),
        "tube": branch.tube.name,
        "can": _can(branch.can),
        "position_mm": _millimetres(branch.position_m),
        "tuned_hz": number(branch.tuned_hz, 1),
        "gas_temperature_c": celsius(branch.gas_temperature_k, 1),
        "end_correction_mm": _millimetres(branch.end_correction_m),
        "covers_hz": [number(branch.covers_low_hz, 1), number(branch.covers_high_hz, 1)],
        "peak_loss_db": number(branch.peak_loss_db, 1),
    }


def _can(can: Can | None) -> dict[str, Json] | None:
    if can is None:
        return None
    return {
        "neck_mm": _millimetres(can.neck_m),
        "inner_diameter_mm": millimetres(can.tube.inner_diameter_m, 2),
        "tube": can.tube.name,
    }


def _hand_method(sizing: Sizing) -> dict[str, Json]:
    hand = sizing.hand_method
    return {
        "speed_of_sound_m_s": number(hand.speed_of_sound_m_s, 2),
        "length_mm": _millimetres(hand.length_m),
        **picked(hand, "really_tunes_hz", "really_tunes_hz_range", "level_change_db", decimals=1),
    }


def _millimetres(length_m: float | Interval | None) -> Json:
    return millimetres(length_m, 1)
