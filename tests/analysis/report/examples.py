"""Results made up for the report's tests: plausible shapes and sizes, no claim to be physics."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

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
)
from analysis.drive import Engine, FloatArray, Trouble
from analysis.findings import (
    Doubt,
    DroneBand,
    EngineSpeed,
    Findings,
    Interval,
    LevelMap,
    LockedTo,
    OrderCurve,
    OrderMap,
    OverallCurve,
    TelemetryDelay,
    Weighting,
)
from analysis.like_with_like import Condition
from analysis.report import Provenance, ReportContents
from analysis.verdicts import (
    BandChange,
    Comparison,
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

SIX = Engine(cylinders=6)
RPM = np.arange(1210.0, 3400.0, 20.0)
_NAN = float("nan")


def band(
    peak_rpm: float = 2240.0,
    *,
    order: float = 3.0,
    rise_db: float = 13.0,
    locked_to: LockedTo = LockedTo.ENGINE,
) -> DroneBand:
    """Build a band 21 % wide."""
    low_rpm, high_rpm = 0.90 * peak_rpm, 1.11 * peak_rpm
    hz = order / 60.0
    return DroneBand(
        engine_order=order,
        peak_rpm=peak_rpm,
        low_rpm=low_rpm,
        high_rpm=high_rpm,
        rise_db=rise_db,
        level_db=-31.0,
        locked_to=locked_to,
        peak_hz_ci95=Interval(low=peak_rpm * hz - 0.8, high=peak_rpm * hz + 0.7),
        low_hz_ci95=Interval(low=low_rpm * hz - 0.9, high=low_rpm * hz + 0.9),
        high_hz_ci95=Interval(low=high_rpm * hz - 1.2, high=high_rpm * hz + 1.2),
    )


def _resonance_db(rpm: FloatArray, bands: tuple[DroneBand, ...]) -> FloatArray:
    power = np.ones_like(rpm)
    for one in bands:
        half = 0.5 * (one.high_rpm - one.low_rpm)
        power += 10.0 ** (one.rise_db / 10.0) / (1.0 + ((rpm - one.peak_rpm) / half) ** 2)
    return 10.0 * np.log10(power)


def curve(order: float, bands: tuple[DroneBand, ...], passes: int = 4) -> OrderCurve:
    """Build an order with the bands on it."""
    rng = np.random.default_rng(int(order * 2))
    rpm = np.tile(RPM, passes)
    trend_db = -46.0 + rpm / 700.0 - 3.0 * abs(order - 3.0)
    if order % SIX.firing_order:
        trend_db -= 22.0  # an even engine hardly has it
    fitted_db = trend_db + _resonance_db(rpm, tuple(b for b in bands if b.engine_order == order))
    seen_ms = 10.0 ** ((fitted_db + rng.normal(0.0, 1.0, rpm.size)) / 10.0)
    background_ms = np.full(rpm.size, 10.0 ** (-5.8))
    return OrderCurve(
        engine_order=order,
        pass_index=np.repeat(np.arange(passes), RPM.size),
        rising=np.repeat(np.arange(passes) % 2 == 0, RPM.size),
        bin_index=np.tile(np.arange(RPM.size), passes),
        rpm=rpm + rng.normal(0.0, 2.0, rpm.size),
        total_ms=seen_ms + background_ms,
        background_ms=background_ms,
        seconds=np.full(rpm.size, 0.5),
        gear=np.repeat(np.arange(passes) // 2, RPM.size).astype(np.float64),
        load_part=np.full(rpm.size, _NAN),
        trend_db=trend_db,
        fitted_db=fitted_db,
    )


def level_map(bands: tuple[DroneBand, ...]) -> LevelMap:
    """Build a map with the order lines and a few empty rows."""
    rng = np.random.default_rng(1)
    frequency_hz = np.linspace(10.0, 600.0, 296)
    level_db = -62.0 - frequency_hz / 40.0 + rng.normal(0.0, 1.5, (RPM.size, frequency_hz.size))
    for order in (1.5, 3.0, 4.5, 6.0):
        line_hz = order * RPM[:, None] / 60.0
        top = (
            -50.0
            - 4.0 * abs(order - 3.0)
            + _resonance_db(RPM, tuple(b for b in bands if b.engine_order == order))
        )
        level_db = np.maximum(level_db, top[:, None] - ((frequency_hz - line_hz) / 1.2) ** 2)
    level_db[40:42] = _NAN
    return LevelMap(rpm=RPM.copy(), frequency_hz=frequency_hz, level_db=level_db)


def order_map(bands: tuple[DroneBand, ...]) -> OrderMap:
    """Build a map with upright order lines."""
    rng = np.random.default_rng(2)
    order = np.arange(201) / 16.0
    level_db = -62.0 - order + rng.normal(0.0, 1.5, (RPM.size, order.size))
    for strong in (1.5, 3.0, 4.5, 6.0):
        top = (
            -50.0
            - 4.0 * abs(strong - 3.0)
            + _resonance_db(RPM, tuple(b for b in bands if b.engine_order == strong))
        )
        level_db = np.maximum(level_db, top[:, None] - (16.0 * (order - strong)) ** 2)
    return OrderMap(rpm=RPM.copy(), engine_order=order, level_db=level_db)


def findings(
    *bands: DroneBand,
    name: str = "baseline drive",
    warnings: tuple[Doubt, ...] = (),
    trouble: tuple[Trouble, ...] = (),
) -> Findings:
    """Build what `find` would give for a drive with sound."""
    z_db = -34.0 + _resonance_db(RPM, bands) * 0.6 + RPM / 1000.0
    time_s = np.linspace(0.0, 180.0, 1800)
    return Findings(
        drive_name=name,
        engine=SIX,
        bands=bands,
        curves=tuple(curve(order, bands) for order in np.arange(0.5, 12.5, 0.5).tolist()),
        overall=OverallCurve(
            rpm=RPM.copy(),
            level_z_db=z_db,
            level_c_db=z_db - 0.6,
            level_a_db=z_db - 17.0,
            seconds=np.full(RPM.size, 2.0),
        ),
        level_map=level_map(bands),
        order_map=order_map(bands),
        engine_speed=EngineSpeed(
            time_s=time_s,
            rpm=2300.0 - 1080.0 * np.cos(2.0 * np.pi * time_s / 90.0),
            sigma_part=np.full(time_s.size, 0.0006),
            gear_index=np.where(time_s < 90.0, 0.0, 1.0),
        ),
        telemetry_delay=TelemetryDelay(
            delay_s=0.47, ci95_s=Interval(low=0.45, high=0.49), drift_ppm=12.0
        ),
        level_unit="dB re full scale",
        full_scale_db=0.0,
        levels_only=False,
        duration_s=180.0,
        warnings=warnings,
        trouble=trouble,
    )


def _as_levels(one: OrderCurve, offset_db: float) -> OrderCurve:
    """Logged levels: already in dB(A), with nothing taken off."""
    return replace(
        one,
        total_ms=one.total_ms * 10.0 ** (offset_db / 10.0),
        background_ms=np.zeros_like(one.background_ms),
        trend_db=one.trend_db + offset_db,
        fitted_db=one.fitted_db + offset_db,
    )


def levels_only() -> Findings:
    """Build an old drive: rpm and dB(A), nothing else."""
    one = band(locked_to=LockedTo.UNKNOWN, rise_db=9.0)
    full = findings(
        one,
        name="old levels",
        warnings=(
            Doubt(code="levels_only", message="this drive has levels only; log one with sound"),
            Doubt(code="one_gear_only", message="only one gear was driven"),
        ),
    )
    no_level = np.full(RPM.size, _NAN)
    return replace(
        full,
        curves=(_as_levels(curve(3.0, (one,), passes=2), 106.0),),
        overall=replace(full.overall, level_z_db=no_level, level_c_db=no_level),
        level_map=None,
        order_map=None,
        engine_speed=replace(
            full.engine_speed, gear_index=np.full(full.engine_speed.time_s.size, _NAN)
        ),
        telemetry_delay=None,
        level_unit="dB(A)",
        full_scale_db=0.0,
        levels_only=True,
    )


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
    )


def sizing(*branches: Branch) -> Sizing:
    """Build what `size` would give; one branch unless said otherwise."""
    branches = branches or (branch(),)
    target = band()
    frequency_hz = np.linspace(40.0, 320.0, 561)
    temperature_k = np.array([353.0, 383.0, 413.0, 443.0, 483.0])
    tuned_hz = branches[0].tuned_hz * np.sqrt(temperature_k / 413.0)[:, None]
    tangent = np.tan(0.5 * np.pi * frequency_hz / tuned_hz)
    loss_db = np.minimum(10.0 * np.log10(1.0 + (0.36 * tangent) ** 2), 27.4)
    before_db = _resonance_db(RPM, (target,)) - 13.2
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
        assumptions=("pipe gas at 300 °C, because the car file does not say",),
        warnings=(),
    )


def comparison(verdict: Verdict = Verdict.CURED, change_db: float = -14.2) -> Comparison:
    """Build what `compare` would give for one baseline band."""
    one = band()
    unknown = verdict is Verdict.CANNOT_TELL
    before_db = -46.0 + RPM / 700.0 + _resonance_db(RPM, (one,))
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
                why="the second drive never reached this engine speed"
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

PROVENANCE = Provenance(
    software_version="0.1.0",
    command="pipenote report baseline --car car.toml --out report.html",
    made_at_utc=datetime(2026, 5, 4, 9, 30, tzinfo=UTC),
    inputs=("baseline", "car.toml"),
    versions=(("numpy", "2.4.6"), ("scipy", "1.17.1"), ("plotly", "7.1.0")),
)


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


def one_gear_doubts() -> tuple[Doubt, ...]:
    """Two usual warnings."""
    return (
        Doubt(code="one_gear_only", message="only one gear was driven"),
        Doubt(code="clipped_audio", message="0.4 s of the sound is clipped"),
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
    return {
        "drone": contents(drone, sizing()),
        "two-branches": contents(drone, sizing(*pair)),
        "two-cans": contents(drone, sizing(can_branch(), can_branch(0.70, 2.33, 74.0))),
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
