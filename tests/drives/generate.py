"""Make a drive from its spec and a seed, or a baseline and a post-fix drive of one car."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Engine, Sound
from tests.drives.motion import Motion, drive_motion
from tests.drives.noise import pressure_pa, road_tone
from tests.drives.pulses import PulseTrain
from tests.drives.road_truth import TrueRoadBand, road_bands
from tests.drives.spec import DriveSpec, SideBranch, TailMicrophone, WholeExhaust
from tests.drives.telemetry import row_lateness_s, telemetry_rows
from tests.drives.truth import CarModel, TrueBand

_TRUTH_HZ = 100.0


class FixKind(StrEnum):
    """What was done to the car between two drives."""

    BRANCH = "branch"  # a side branch tuned to the worst drone
    UNCHANGED = "unchanged"  # nothing
    MOVED = "moved"  # something that only shifts the resonances


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of one drive.

    ``telemetry_delay_s`` is row time minus true time at the middle of the drive (positive: the
    row is late); ``drift_ppm`` is how fast it grows. ``time_s``/``rpm`` [shape=(n,)] are the
    engine speed each 10 ms on the sound's clock.
    """

    road_bands: tuple[TrueRoadBand, ...]
    telemetry_delay_s: float
    drift_ppm: float
    time_s: FloatArray
    rpm: FloatArray
    car: CarModel

    @property
    def bands(self) -> tuple[TrueBand, ...]:
        """Those of the engine's orders, loudest first."""
        return self.car.bands


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneratedDrive:
    """The sound [shape=(n,), -1..1], the telemetry, and the truth beside them."""

    spec: DriveSpec
    samples: NDArray[np.float32]
    sample_rate_hz: float
    telemetry: pd.DataFrame
    truth: Truth
    sound_gaps_s: tuple[tuple[float, float], ...] = ()  # where nothing was recorded
    tail_samples: NDArray[np.float32] | None = None  # of a second microphone, where there is one

    def drive(self) -> Drive:
        """As the analysis takes it."""
        sound = Sound.from_array(
            self.samples, self.sample_rate_hz, full_scale_db_spl=self.spec.full_scale_db_spl
        )
        tail = self.tail_samples
        return Drive(
            name=self.spec.name,
            engine=Engine(cylinders=self.spec.source.cylinders),
            sound=replace(sound, gaps_s=self.sound_gaps_s),
            telemetry=self.telemetry,
            tail=None if tail is None else Sound.from_array(tail, self.sample_rate_hz),
        )


def generate(spec: DriveSpec, seed: int, *, outing: int = 0) -> GeneratedDrive:
    """Drive the car ``seed`` once; another ``outing`` is the same car on another day."""
    pulses = PulseTrain.build(spec.source, np.random.default_rng([seed, 0]))
    rng = np.random.default_rng([seed, 1, outing])
    car = CarModel(spec, pulses)
    motion = drive_motion(_as_driven(spec, np.random.default_rng([seed, 2, outing])), rng)
    pressure, at_tail = _sound_pressure(car, motion, rng)
    time_s = np.arange(0.0, spec.duration_s, 1.0 / _TRUTH_HZ)
    lateness_s = row_lateness_s(spec.telemetry, spec.duration_s / 2.0)
    return GeneratedDrive(
        spec=spec,
        samples=_sampled(pressure, car),
        sample_rate_hz=spec.sample_rate_hz,
        telemetry=telemetry_rows(spec.telemetry, motion, spec.duration_s, rng),
        truth=Truth(
            road_bands=road_bands(spec),
            telemetry_delay_s=lateness_s,
            drift_ppm=spec.telemetry.clock_drift_ppm,
            time_s=time_s,
            rpm=motion.rpm(time_s),
            car=car,
        ),
        tail_samples=None if at_tail is None else _sampled(at_tail, car),
    )


def _sampled(pressure: FloatArray, car: CarModel) -> NDArray[np.float32]:
    return np.asarray(np.clip(pressure / car.full_scale_pa, -1.0, 1.0), dtype=np.float32)


def _as_driven(spec: DriveSpec, rng: np.random.Generator) -> DriveSpec:
    """No two passes and no two days are alike: the foot, the weather, how warm the engine is."""
    day_db = spec.day_spread_db * rng.normal()
    legs = tuple(
        replace(leg, load=leg.load * 10.0 ** (0.05 * (day_db + spec.pass_spread_db * rng.normal())))
        for leg in spec.legs
    )
    return replace(spec, legs=legs)


def _sound_pressure(
    car: CarModel, motion: Motion, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray | None]:
    """In the cabin, and at the tail where a microphone is there."""
    spec = car.spec
    time_s = np.arange(round(spec.duration_s * spec.sample_rate_hz)) / spec.sample_rate_hz
    source = car.smooth.apply(car.source_gain_pa * car.pulses.sound(motion, time_s, rng))
    exhaust = car.exhaust.apply(source)
    if car.branch is not None:
        exhaust = car.branch.apply(exhaust)
    inside = car.cabin.apply(exhaust + spec.shaken * source)
    pressure = inside + car.noise.sound(motion, time_s, rng)
    if spec.road_tone is not None:
        pressure += road_tone(spec.road_tone, motion, time_s, spec.sample_rate_hz)
    return pressure, None if spec.tail is None else _at_tail(spec, spec.tail, exhaust, rng)


def _at_tail(
    spec: DriveSpec, tail: TailMicrophone, exhaust: FloatArray, rng: np.random.Generator
) -> FloatArray:
    late = round(tail.late_s * spec.sample_rate_hz)
    heard = tail.gain * np.concatenate([np.zeros(late), exhaust[: exhaust.size - late]])
    return np.asarray(heard + pressure_pa(tail.wind_db_spl) * rng.standard_normal(heard.size))


def fixed_spec(spec: DriveSpec, kind: FixKind, peak_hz: float) -> DriveSpec:
    """The same car after the work."""
    if kind is FixKind.BRANCH:
        return replace(spec, branch=SideBranch(tuned_hz=peak_hz))
    if kind is FixKind.MOVED:
        assert not isinstance(spec.exhaust, WholeExhaust)
        shifted = tuple(replace(r, frequency_hz=1.22 * r.frequency_hz) for r in spec.exhaust)
        return replace(spec, exhaust=shifted)
    return spec


def generate_pair(
    spec: DriveSpec, seed: int, kind: FixKind = FixKind.BRANCH
) -> tuple[GeneratedDrive, GeneratedDrive, tuple[float, ...]]:
    """Baseline, post-fix drive, and for each band of the baseline the true change in dB.

    The change is that of the order's mean square over the baseline band's low to high rpm. The
    work is aimed at the worst baseline band; without one it is aimed at 100 Hz.
    """
    baseline = generate(spec, seed, outing=0)
    bands = baseline.truth.bands
    after_spec = fixed_spec(spec, kind, bands[0].peak_hz if bands else 100.0)
    postfix = generate(after_spec, seed, outing=1)
    changes = tuple(
        float(10.0 * np.log10(_band_power(postfix, band) / _band_power(baseline, band)))
        for band in bands
    )
    return baseline, postfix, changes


def _band_power(drive: GeneratedDrive, band: TrueBand) -> float:
    return drive.truth.car.band_mean_square(band.engine_order, band.low_rpm, band.high_rpm)
