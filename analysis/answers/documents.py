"""JSON documents of ``find`` and ``compare``; their schemas lie in ``schemas/``.

Unknown values are null. Keys beside those of the schemas' ``required`` lists may come, never go.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
from collections.abc import Mapping
from importlib import resources

import numpy as np

from analysis.answers.json_values import Json
from analysis.answers.json_values import interval as _interval
from analysis.answers.json_values import number as _number
from analysis.answers.like_document import (
    gain_document,
    matching_document,
    order_documents,
    overall_document,
    part_document,
)
from analysis.basics.units import ZERO_C_K
from analysis.compare.trim.gas_found import car_file_lines, car_file_value, gas_found
from analysis.exhaust.car_edit import KEY
from analysis.find.tone import band_tone
from analysis.findings import Cause, Doubt, DroneBand, Findings
from analysis.verdicts import BandChange, Comparison, Trim, TrimOutlook
from analysis.words.quantities import gear_name

SCHEMA_VERSION = 1


def find_document(findings: Findings) -> dict[str, Json]:
    """Give what ``find --json`` prints, as plain data."""
    delay = findings.telemetry_delay
    engine = findings.engine
    return {
        "schema": SCHEMA_VERSION,
        "drive": findings.drive_name,
        "duration_s": _number(findings.duration_s),
        "cylinders": None if engine is None else engine.cylinders,
        "firing_order": None if engine is None else engine.firing_order,
        "levels_only": findings.levels_only,
        "level_unit": findings.level_unit,
        "driven_rpm": [_number(end) for end in findings.driven_rpm],
        "withheld": findings.withheld,
        "drone_bands": [
            band_object(band) | {"tonal_audibility_db": _audibility(findings, band)}
            for band in findings.bands
        ],
        "causes": [_cause(cause) for cause in findings.causes],
        "firing_layout": [*findings.firing_layout],
        "telemetry_delay_s": None if delay is None else _number(delay.delay_s),
        "telemetry_delay_ci95_s": None if delay is None else _interval(delay.ci95_s),
        "telemetry_drift_ppm": None if delay is None else _number(delay.drift_ppm),
        "engine_speed_ci95_percent": _speed_known_to(findings),
        "warnings": doubt_objects(findings.warnings),
        "trouble": [
            {
                "code": trouble.code,
                "message": trouble.message,
                "start_s": _number(trouble.start_s),
                "duration_s": _number(trouble.duration_s),
            }
            for trouble in findings.trouble
        ],
        "marks_s": [_number(mark_s) for mark_s in findings.marks_s],
    }


def no_drone_document(why: str) -> dict[str, Json]:
    """Give what ``size --json`` prints for a drive that needs no branch."""
    return {
        "schema": SCHEMA_VERSION,
        "branches": [],
        "predicted": {
            "level_change_db": None,
            "level_change_db_range": [None, None],
            "elsewhere_change_db": None,
        },
        "assumptions": [],
        "warnings": [{"code": "nothing_to_size", "message": why}],
    }


def comparison_document(comparison: Comparison) -> dict[str, Json]:
    """Give what ``compare --json`` prints, as plain data."""
    return {
        "schema": SCHEMA_VERSION,
        "baseline": comparison.baseline_name,
        "postfix": comparison.postfix_name,
        "bands": [_change(change) for change in comparison.changes],
        "new_bands": [band_object(band) for band in comparison.new_bands],
        "level_unit": comparison.level_unit,
        "gain": gain_document(comparison.gain),
        "overall": [part_document(change) for change in comparison.parts],
        "overall_curves": [overall_document(curve) for curve in comparison.overall],
        "order_curves": order_documents(comparison),
        "matching": matching_document(comparison.matching),
        "trim": [_trim(trim) for trim in comparison.trims],
        "trim_outlook": _outlook(comparison.trim_outlook),
        "car_file": _car_file(comparison),
        "whistles": [
            {
                "frequency_hz": _number(whistle.frequency_hz),
                "low_rpm": _number(whistle.low_rpm),
                "high_rpm": _number(whistle.high_rpm),
                "out_db": _number(whistle.out_db),
            }
            for whistle in comparison.whistles
        ],
        "warnings": doubt_objects(comparison.warnings),
    }


def _car_file(comparison: Comparison) -> dict[str, Json] | None:
    gas_k = gas_found(comparison)
    if gas_k is None:
        return None
    return {KEY: car_file_value(gas_k), "toml": car_file_lines(gas_k)}


def result_schema(name: str) -> Mapping[str, object]:
    """JSON Schema (draft 2020-12) of a result: ``find``, ``size``, ``compare`` or ``history``."""
    source = resources.files("analysis.answers").joinpath("schemas", f"{name}.schema.json")
    schema: dict[str, object] = json.loads(source.read_text(encoding="utf-8"))
    return schema


def band_object(band: DroneBand) -> dict[str, Json]:
    """Give one band as plain data."""
    return {
        "engine_order": _number(band.engine_order),
        "peak_rpm": _number(band.peak_rpm),
        "low_rpm": _number(band.low_rpm),
        "high_rpm": _number(band.high_rpm),
        "peak_hz": _number(band.peak_hz),
        "low_hz": _number(band.low_hz),
        "high_hz": _number(band.high_hz),
        "rise_db": _number(band.rise_db),
        "level_db": _number(band.level_db),
        "locked_to": band.locked_to.value,
        "by_gear": [
            {
                "gear": view.gear if view.gear >= 0 else None,
                "state": gear_name(view.gear),
                "share_of_rise": _number(view.share_of_rise),
                "road_speed_m_s": _number(view.road_speed_m_s),
            }
            for view in band.by_gear
        ],
        "by_load": [
            {
                "load": view.load.value,
                "load_part": _number(view.load_part),
                "level_db": _number(view.level_db),
                "share_of_rise": _number(view.share_of_rise),
            }
            for view in band.by_load
        ],
        "ci95": {
            "peak_hz": _interval(band.peak_hz_ci95),
            "low_hz": _interval(band.low_hz_ci95),
            "high_hz": _interval(band.high_hz_ci95),
        },
    }


def _audibility(findings: Findings, band: DroneBand) -> float | None:
    tone = band_tone(findings, band)
    return None if tone is None else _number(tone.audibility_db)


def _speed_known_to(findings: Findings) -> float | None:
    sigma = findings.engine_speed.sigma_part
    known = sigma[np.isfinite(sigma)]
    return _number(196.0 * float(np.median(known))) if known.size else None


def _cause(cause: Cause) -> dict[str, Json]:
    return {
        "frequency_hz": _number(cause.frequency_hz),
        "bands": [*cause.bands],
        "locked_to": cause.locked_to.value,
        "evidence": [*cause.evidence],
        "suspects": [*cause.suspects],
        "to_decide": [*cause.to_decide],
    }


def _change(change: BandChange) -> dict[str, Json]:
    return {
        "engine_order": _number(change.band.engine_order),
        "peak_rpm": _number(change.band.peak_rpm),
        "low_rpm": _number(change.band.low_rpm),
        "high_rpm": _number(change.band.high_rpm),
        "level_change_db": _number(change.level_change_db),
        "ci95_db": _interval(change.ci95_db),
        "smallest_change_db": _number(change.smallest_change_db),
        "verdict": change.verdict.value,
        "why": change.why,
        "kept_alike": [each.value for each in change.kept_alike],
    }


def _trim(trim: Trim) -> dict[str, Json]:
    return {
        "branch": trim.branch,
        "built_length_mm": _number(1000.0 * trim.built_length_m),
        "cut_mm": _number(1000.0 * trim.cut_m),
        "ci95_mm": [_number(1000.0 * end) for end in (trim.ci95_m.low, trim.ci95_m.high)],
        "gas_temperature_c": _number(trim.gas_temperature_k - ZERO_C_K),
        "gas_temperature_ci95_c": [
            _number(end - ZERO_C_K)
            for end in (trim.gas_temperature_ci95_k.low, trim.gas_temperature_ci95_k.high)
        ],
        "works_at_hz": _number(trim.works_at_hz),
        "wanted_hz": _number(trim.wanted_hz),
        "is_worth_it": trim.is_worth_it,
        "neck_mm": _number(1000.0 * trim.neck_m),
    }


def _outlook(outlook: TrimOutlook | None) -> dict[str, Json] | None:
    if outlook is None:
        return None
    return {
        "is_worth_it": outlook.is_worth_it,
        "level_change_db_as_built": _number(outlook.now_db),
        "level_change_db": _number(outlook.then_db),
        "level_change_ci95_db": _interval(outlook.then_ci95_db),
        "elsewhere_change_db_as_built": _number(outlook.elsewhere_now_db),
        "elsewhere_change_db": _number(outlook.elsewhere_then_db),
        "cured_share_as_built": _number(outlook.cured_now_share),
        "cured_share": _number(outlook.cured_then_share),
    }


def doubt_objects(doubts: tuple[Doubt, ...]) -> list[Json]:
    """Give doubts as plain data."""
    return [{"code": doubt.code, "message": doubt.message} for doubt in doubts]
