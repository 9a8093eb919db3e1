"""What the benchmark of constants asks ``find``, ``size`` and ``compare``, and what they said."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pickle
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

if TYPE_CHECKING:
    from analysis.compare.trim.built import BuiltBranch
    from analysis.exhaust.car import Car
    from analysis.findings import Findings
    from analysis.verdicts import Comparison

# Nothing of ``analysis`` is imported up here: each constant gets a fork that has not run it yet.

ROOT = Path(__file__).resolve().parents[2]
Answers = dict[str, float | str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A drive as plain data; None for no sound."""

    samples: NDArray[np.float32] | None
    sample_rate_hz: float
    full_scale_db_spl: float
    cylinders: int
    telemetry: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What ``find`` is asked, and what it found in a pair of drives with no constant changed.

    Findings are pickled, because a fork must make their types anew from its changed modules.
    """

    drives: Mapping[str, Recorded]
    found: bytes


def make() -> Made:
    """Drives, and what is found in them with no constant changed."""
    from analysis.find.drone import find_drone
    from tests.drives import (
        FixKind,
        GeneratedDrive,
        generate,
        generate_pair,
        random_spec,
    )
    from tests.drives.spec import DriveSpec, Leg, TelemetrySpec

    def short(seed: int, bands: int) -> DriveSpec:
        """One climb and one fall, so that two passes of each bin are known."""
        spec = random_spec(np.random.default_rng([95, seed]), bands=bands, sample_rate_hz=2000.0)
        high = max(leg.end_rpm for leg in spec.legs)
        legs = (
            Leg(duration_s=18.0, end_rpm=high, gear=3),
            Leg(duration_s=15.0, end_rpm=spec.start_rpm, gear=3, load=0.8),
            Leg(duration_s=12.0, end_rpm=high, gear=4),
        )
        log = TelemetrySpec(rate_hz=4.0, delay_s=0.4, rpm_step=1.0, load=True)
        return replace(spec, legs=legs, telemetry=log)

    def recorded(drive: GeneratedDrive) -> Recorded:
        return Recorded(
            samples=drive.samples,
            sample_rate_hz=drive.sample_rate_hz,
            full_scale_db_spl=drive.spec.full_scale_db_spl,
            cylinders=drive.spec.source.cylinders,
            telemetry=drive.telemetry,
        )

    logged = recorded(generate(short(1, 1), 1))
    heard = recorded(generate(short(2, 1), 2))
    rows = pd.read_csv(ROOT / "recorded_sessions" / "old_levels" / "telemetry.csv")
    found = [find_drone(each.drive()) for each in generate_pair(short(1, 1), 3, FixKind.BRANCH)[:2]]
    return Made(
        drives={
            "logged": logged,
            "heard": replace(heard, telemetry=heard.telemetry.iloc[:0]),
            "levels": replace(logged, samples=None, telemetry=rows),
        },
        found=pickle.dumps(found),
    )


def find_answers(made: Made) -> Answers:
    """Bands of each drive by their order, and what is doubted."""
    from analysis.drive import Drive, Engine, Sound
    from analysis.find.drone import find_drone

    answers: Answers = {}
    for case, recorded in made.drives.items():
        sound = None
        if recorded.samples is not None:
            sound = Sound.from_array(
                recorded.samples,
                recorded.sample_rate_hz,
                full_scale_db_spl=recorded.full_scale_db_spl,
            )
        engine = Engine(cylinders=recorded.cylinders)
        findings = find_drone(
            Drive(name=case, engine=engine, sound=sound, telemetry=recorded.telemetry)
        )
        answers[f"{case} bands"] = " ".join(f"{b.engine_order:g}" for b in findings.bands)
        for number, band in enumerate(findings.bands):
            answers[f"{case} {number} peak %"] = 100.0 * float(np.log(band.peak_hz))
            answers[f"{case} {number} width %"] = 100.0 * float(
                np.log(band.high_rpm - band.low_rpm)
            )
            answers[f"{case} {number} rise dB"] = band.rise_db
        answers[f"{case} warnings"] = _codes(findings.warnings) + f" {findings.withheld}"
    return answers


def size_answers(made: Made) -> Answers:
    """Lengths, places and outlook, on the whole exhaust of the demo and on a pipe alone."""
    from analysis.size.from_findings import request_for_bands
    from analysis.size.size import size_branches

    baseline = pickle.loads(made.found)[0]
    answers: Answers = {}
    car = _car()
    for case, told in (("line", car), ("pipe", replace(car, sections=(), places_m=()))):
        sizing = size_branches(request_for_bands(baseline, baseline.bands[:1], told))
        for number, branch in enumerate(sizing.branches):
            answers[f"{case} {number} length mm"] = 1e3 * branch.length_m
            answers[f"{case} {number} bore mm"] = 1e3 * branch.tube.inner_diameter_m
            answers[f"{case} {number} place mm"] = 1e3 * (branch.position_m or 0.0)
        answers[f"{case} branches"] = str(len(sizing.branches))
        answers[f"{case} change dB"] = sizing.predicted.level_change_db
        answers[f"{case} worst dB"] = sizing.predicted.level_change_db_range.high
        answers[f"{case} warnings"] = _codes(sizing.warnings)
    return answers


def compare_answers(made: Made) -> Answers:
    """The change of each band, and what to trim by frequency alone."""
    from analysis.compare.comparison import compare_drives

    baseline, postfix = pickle.loads(made.found)
    comparison = compare_drives(baseline, postfix, (_built(baseline),))
    answers: Answers = {"warnings": _codes(comparison.warnings)}
    for number, change in enumerate(comparison.changes):
        answers[f"{number} verdict"] = str(change.verdict)
        answers[f"{number} change dB"] = change.level_change_db
        answers[f"{number} interval dB"] = change.ci95_db.high - change.ci95_db.low
    answers["whistles"] = str(len(comparison.whistles))
    return answers | _trim_answers(comparison)


def trim_answers(made: Made) -> Answers:
    """What to trim on the whole exhaust."""
    from analysis.compare.comparison import compare_drives
    from analysis.size.from_findings import request_for_bands

    baseline, postfix = pickle.loads(made.found)
    request = request_for_bands(baseline, baseline.bands[:1], _car())
    comparison = compare_drives(baseline, postfix, (_built(baseline),), sized_by=request)
    answers = _trim_answers(comparison)
    if comparison.trim_outlook is not None:
        answers["then dB"] = comparison.trim_outlook.then_db
    return answers


def _car() -> Car:
    """The demo's car, with less room and a narrower range, which takes half of the time."""
    from analysis.exhaust.car import read_car

    car = read_car(ROOT / "recorded_sessions" / "car.toml")
    return replace(car, places_m=((0.3, 0.8),), driving_range_rpm=(1600.0, 2600.0))


def _built(baseline: Findings) -> BuiltBranch:
    """A quarter wave of warm gas that was meant to work a little above the drone."""
    from analysis.compare.trim.built import BuiltBranch

    peak_hz = baseline.bands[0].peak_hz
    return BuiltBranch(
        length_m=0.25 * 430.0 / peak_hz,
        end_correction_m=0.012,
        bore_m=0.054,
        wanted_hz=1.04 * peak_hz,
        position_m=0.8,
    )


def _trim_answers(comparison: Comparison) -> Answers:
    answers: Answers = {}
    for trim in comparison.trims:
        kelvin = trim.gas_temperature_ci95_k
        answers["cut mm"] = 1e3 * trim.cut_m
        answers["works %"] = 100.0 * float(np.log(trim.works_at_hz))
        answers["interval K"] = kelvin.high - kelvin.low
    return answers


ASKED: Mapping[str, Callable[[Made], Answers]] = {
    "find": find_answers,
    "size": size_answers,
    "compare": compare_answers,
    "trim": trim_answers,
}


def _codes(warnings: Sequence[object]) -> str:
    return " ".join(sorted(str(getattr(each, "code", each)) for each in warnings))
