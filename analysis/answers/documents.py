"""JSON documents of ``find`` and ``compare``; their schemas lie in ``schemas/``.

Unknown values are null. Keys beside those of the schemas' ``required`` lists may come, never go.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.answers.json_values import Json, celsius, millimetres, number, picked, plain, renamed
from analysis.compare.trim.gas_found import car_file_lines, car_file_value, gas_found
from analysis.exhaust.car_edit import KEY
from analysis.find.tone import band_tone
from analysis.findings import Doubt, DroneBand, Findings
from analysis.verdicts import (
    Addition,
    BandChange,
    Comparison,
    LeftOut,
    Matching,
    OrderBeforeAfter,
    OverallBeforeAfter,
    PartChange,
    Trim,
    TrimOutlook,
)
from analysis.words.matching import left_out_words, matched_words
from analysis.words.quantities import gear_name

SCHEMA_VERSION = 1


def find_document(findings: Findings) -> dict[str, Json]:
    """Give what ``find --json`` prints, as plain data."""
    delay = findings.telemetry_delay
    engine = findings.engine
    return {
        "schema": SCHEMA_VERSION,
        "drive": findings.drive_name,
        "duration_s": number(findings.duration_s),
        "cylinders": None if engine is None else engine.cylinders,
        "firing_order": None if engine is None else engine.firing_order,
        **picked(findings, "levels_only", "level_unit", "driven_rpm", "withheld"),
        "drone_bands": [
            band_object(band) | {"tonal_audibility_db": _audibility(findings, band)}
            for band in findings.bands
        ],
        **picked(findings, "causes", "firing_layout"),
        "telemetry_delay_s": None if delay is None else number(delay.delay_s),
        "telemetry_delay_ci95_s": None if delay is None else plain(delay.ci95_s),
        "telemetry_drift_ppm": None if delay is None else number(delay.drift_ppm),
        "engine_speed_ci95_percent": number(findings.engine_speed.known_to_percent(50.0)),
        "warnings": doubt_objects(findings.warnings),
        **picked(findings, "trouble", "marks_s"),
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
        "warnings": [{"code": "nothing_to_size", "kind": "doubt", "message": why}],
    }


def comparison_document(comparison: Comparison) -> dict[str, Json]:
    """Give what ``compare --json`` prints, as plain data."""
    orders = (*comparison.curves, *comparison.other_curves)
    return {
        "schema": SCHEMA_VERSION,
        "baseline": comparison.baseline_name,
        "postfix": comparison.postfix_name,
        "bands": [_change(change) for change in comparison.changes],
        "new_bands": [band_object(band) for band in comparison.new_bands],
        "level_unit": comparison.level_unit,
        "gain": renamed(
            comparison.gain,
            gain_db="gain_db",
            standard_uncertainty_db="sd_db",
            is_taken_off="is_taken_off",
        ),
        "overall": [_part(change) for change in comparison.parts],
        "overall_curves": [
            picked(curve, "weighting") | _over_rpm(curve) for curve in comparison.overall
        ],
        "order_curves": [
            picked(curve, "engine_order") | _over_rpm(curve)
            for curve in sorted(orders, key=lambda each: each.engine_order)
        ],
        "matching": _matching(comparison.matching),
        "trim": [_trim(trim) for trim in comparison.trims],
        "trim_outlook": _outlook(comparison.trim_outlook),
        "addition": _addition(comparison.addition),
        "car_file": _car_file(comparison),
        "whistles": plain(comparison.whistles),
        "warnings": doubt_objects(comparison.warnings),
    }


def band_object(band: DroneBand) -> dict[str, Json]:
    """Give one band as plain data."""
    return {
        **picked(band, "engine_order", "peak_rpm", "low_rpm", "high_rpm"),
        **picked(band, "peak_hz", "low_hz", "high_hz", "rise_db", "level_db", "locked_to"),
        "by_gear": [
            {
                # standing and coasting are below zero: no gear
                "gear": view.gear if view.gear >= 0 else None,
                "state": gear_name(view.gear),
                **picked(view, "share_of_rise", "road_speed_m_s"),
            }
            for view in band.by_gear
        ],
        "by_load": plain(band.by_load),
        "ci95": {
            "peak_hz": plain(band.peak_hz_ci95),
            "low_hz": plain(band.low_hz_ci95),
            "high_hz": plain(band.high_hz_ci95),
        },
    }


def doubt_objects(doubts: tuple[Doubt, ...]) -> list[Json]:
    """Give doubts as plain data."""
    return [picked(doubt, "code", "message") for doubt in doubts]


def _audibility(findings: Findings, band: DroneBand) -> float | None:
    tone = band_tone(findings, band)
    return None if tone is None else number(tone.audibility_db)


def _change(change: BandChange) -> dict[str, Json]:
    return {
        **picked(change.band, "engine_order", "peak_rpm", "low_rpm", "high_rpm"),
        **picked(change, "level_change_db", "ci95_db", "smallest_change_db", "verdict", "why"),
        **picked(change, "highest_change_db", "elsewhere_change_db", "kept_alike"),
    }


def _part(change: PartChange) -> dict[str, Json]:
    return {
        **picked(change, "part", "weighting", "low_rpm", "high_rpm", "before_db", "after_db"),
        "level_change_db": number(change.change_db),
        **picked(change, "ci95_db", "kept_alike"),
    }


def _over_rpm(curve: OrderBeforeAfter | OverallBeforeAfter) -> dict[str, Json]:
    decimals = {"rpm": 1, "before_db": 2, "after_db": 2}
    return {
        name: [number(each, digits) for each in getattr(curve, name).tolist()]
        for name, digits in decimals.items()
    }


def _matching(matching: Matching | None) -> dict[str, Json] | None:
    if matching is None:
        return None
    baseline, postfix = matching.left_out
    return {
        "kept_alike": plain(matching.kept),
        "known_of_both": plain(matching.known),
        "message": f"Compared {matched_words(matching)}.",
        "baseline": _left_out(baseline),
        "postfix": _left_out(postfix),
    }


def _left_out(left_out: LeftOut) -> dict[str, Json]:
    return {
        **picked(left_out, "sweeps", "sweeps_compared", "seconds", "seconds_compared"),
        "left_out": plain(left_out.parts),
        "message": left_out_words(left_out),
    }


def _trim(trim: Trim) -> dict[str, Json]:
    return {
        "branch": trim.branch,
        "built_length_mm": millimetres(trim.built_length_m),
        "cut_mm": millimetres(trim.cut_m),
        "ci95_mm": millimetres(trim.ci95_m),
        "gas_temperature_c": celsius(trim.gas_temperature_k),
        "gas_temperature_ci95_c": celsius(trim.gas_temperature_ci95_k),
        **picked(trim, "works_at_hz", "wanted_hz", "is_worth_it"),
        "neck_mm": millimetres(trim.neck_m),
    }


def _addition(addition: Addition | None) -> dict[str, Json] | None:
    if addition is None:
        return None
    return {
        "legs": list(addition.legs),
        "position_mm": millimetres(addition.position_m),
        "length_mm": millimetres(addition.length_m),
        "inner_diameter_mm": millimetres(addition.bore_m),
        "first_length_mm": millimetres(addition.first_m),
        "outlook": _outlook(addition.outlook),
    }


def _outlook(outlook: TrimOutlook | None) -> dict[str, Json] | None:
    return renamed(
        outlook,
        is_worth_it="is_worth_it",
        level_change_db_as_built="now_db",
        level_change_db="then_db",
        level_change_ci95_db="then_ci95_db",
        elsewhere_change_db_as_built="elsewhere_now_db",
        elsewhere_change_db="elsewhere_then_db",
        cured_share_as_built="cured_now_share",
        cured_share="cured_then_share",
    )


def _car_file(comparison: Comparison) -> dict[str, Json] | None:
    gas_k = gas_found(comparison)
    if gas_k is None:
        return None
    return {KEY: car_file_value(gas_k), "toml": car_file_lines(gas_k)}
