"""JSON document of ``size``; its schema is ``schemas/size.schema.json``.

Lengths to 0.1 mm, frequencies and temperatures to 0.1, levels to 0.1 dB; unknown values are null.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.answers.documents import SCHEMA_VERSION
from analysis.answers.json_values import Json
from analysis.basics.interval import Interval
from analysis.basics.units import INCH_M, ZERO_C_K
from analysis.branches import Branch, Can, Sizing
from analysis.words.lengths import sixteenths


def sizing_document(sizing: Sizing) -> dict[str, Json]:
    """Give what ``size --json`` prints, as plain data."""
    target, predicted = sizing.target, sizing.predicted
    return {
        "schema": SCHEMA_VERSION,
        "target": {
            "engine_order": _number(target.engine_order, 2),
            "peak_hz": _number(target.peak_hz, 2),
            "low_hz": _number(target.low_hz, 2),
            "high_hz": _number(target.high_hz, 2),
        },
        "pipe_inner_diameter_mm": _millimetres(sizing.pipe_inner_diameter_m),
        "gas_temperature_c_range": [
            _celsius(sizing.gas_temperature_k.low),
            _celsius(sizing.gas_temperature_k.high),
        ],
        "branches": [_branch(branch) for branch in sizing.branches],
        "as_good": [[_branch(branch) for branch in branches] for branches in sizing.as_good],
        "spacing_mm": None if sizing.spacing_m is None else _millimetres(sizing.spacing_m),
        "predicted": {
            "level_change_db": _number(predicted.level_change_db, 1),
            "level_change_db_range": _span(predicted.level_change_db_range, 1),
            "elsewhere_change_db": _number(predicted.elsewhere_change_db, 1),
        },
        "sensitivity": _sensitivity(sizing),
        "hand_method": _hand_method(sizing),
        "gains": list(sizing.gains),
        "assumptions": list(sizing.assumptions),
        "warnings": [{"code": w.code, "message": w.message} for w in sizing.warnings],
    }


def _branch(branch: Branch) -> dict[str, Json]:
    position = None if branch.position_m is None else _millimetres(branch.position_m)
    return {
        "length_mm": _millimetres(branch.length_m),
        "length_in": _number(branch.length_m / INCH_M, 2),
        "length_in_sixteenths": sixteenths(branch.length_m),
        "length_mm_range": [_millimetres(branch.shortest_m), _millimetres(branch.longest_m)],
        "inner_diameter_mm": _number(1e3 * branch.tube.inner_diameter_m, 2),
        "tube": branch.tube.name,
        "can": _can(branch.can),
        "position_mm": position,
        "tuned_hz": _number(branch.tuned_hz, 1),
        "gas_temperature_c": _celsius(branch.gas_temperature_k),
        "end_correction_mm": _millimetres(branch.end_correction_m),
        "covers_hz": [_number(branch.covers_low_hz, 1), _number(branch.covers_high_hz, 1)],
        "peak_loss_db": _number(branch.peak_loss_db, 1),
    }


def _can(can: Can | None) -> dict[str, Json] | None:
    if can is None:
        return None
    return {
        "neck_mm": _millimetres(can.neck_m),
        "inner_diameter_mm": _number(1e3 * can.tube.inner_diameter_m, 2),
        "tube": can.tube.name,
    }


def _sensitivity(sizing: Sizing) -> dict[str, Json]:
    cost = sizing.sensitivity
    return {
        "hz_per_kelvin": _number(cost.hz_per_kelvin, 4),
        "hz_per_mm": _number(cost.hz_per_mm, 4),
        "hz_per_rpm": _number(cost.hz_per_rpm, 4),
        "loss_db_per_10_kelvin": _number(cost.loss_db_per_10_kelvin, 2),
        "loss_db_per_10_mm": _number(cost.loss_db_per_10_mm, 2),
        "loss_db_per_20_rpm": _number(cost.loss_db_per_20_rpm, 2),
    }


def _hand_method(sizing: Sizing) -> dict[str, Json]:
    hand = sizing.hand_method
    return {
        "speed_of_sound_m_s": _number(hand.speed_of_sound_m_s, 2),
        "length_mm": _millimetres(hand.length_m),
        "really_tunes_hz": _number(hand.really_tunes_hz, 1),
        "really_tunes_hz_range": _span(hand.really_tunes_hz_range, 1),
        "level_change_db": _number(hand.level_change_db, 1),
    }


def _span(span: Interval, digits: int) -> list[Json]:
    return [_number(span.low, digits), _number(span.high, digits)]


def _millimetres(length_m: float) -> float | None:
    return _number(1e3 * length_m, 1)


def _celsius(temperature_k: float) -> float | None:
    return _number(temperature_k - ZERO_C_K, 1)


def _number(value: float | None, digits: int) -> float | None:
    """Round; null for unknown, never infinite."""
    return None if value is None or not math.isfinite(value) else round(float(value), digits)
