"""Drive a road: the sound as recorded, the rows as logged, and what is true."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import signal

from analysis.drive import Drive, Engine, Sound
from tests.roads.driver import Motion, drive_motion
from tests.roads.engine import EXHAUST, INTAKE, STRUCTURE, Pulses
from tests.roads.interference import hum, speech
from tests.roads.music import music
from tests.roads.noise import decibels, road_noise, unit
from tests.roads.recorder import recorded
from tests.roads.rpm_log import late_s, log_rows
from tests.roads.spec import CarSpec, FloatArray, RoadSpec
from tests.roads.truth import (
    Curves,
    TrueHill,
    car_curves,
    hills,
    measured_curve,
    sound_late_s,
    speeds_between,
)
from tests.roads.ways import apply_resonances, apply_way, block_times, delayed

_SPEEDS_ALIKE = 0.02  # judgement: engine speeds so near, as a share, see the same gas
_HISS_HZ = 150.0  # judgement: what the gas hisses lies above this


@dataclass(frozen=True, kw_only=True)
class RoadTruth:
    """What is true of one drive, on the sound's clock but for ``recorder.drift_ppm``.

    ``engine_sound`` [shape=(n,)] is the engine at the microphone and nothing else, in units of its
    own root mean square, ``other_sound`` all the rest in the same units. ``motion`` has the true
    engine speed every 10 ms; on its grid stand ``shut``, 1 where half of the cylinders were, and
    ``warmth``, the share by which the exhaust's resonances stood above where the spec names them.
    """

    spec: RoadSpec
    motion: Motion
    shut: FloatArray
    warmth: FloatArray
    engine_sound: FloatArray
    other_sound: FloatArray

    @property
    def time_s(self) -> FloatArray:
        """Times of ``rpm``, every 10 ms."""
        return self.motion.grid_s

    @property
    def rpm(self) -> FloatArray:
        """True engine speed."""
        return self.motion.rpm

    @cached_property
    def curves(self) -> Curves:
        """Levels of the car's orders under full load over the driven range, as warm as driven."""
        low, high = np.quantile(self.motion.rpm, [0.005, 0.995])
        rpm = speeds_between(float(low), float(high))
        return car_curves(self.spec.engine, self.spec.car, rpm, self.warmth_over(rpm))

    @cached_property
    def hills(self) -> tuple[TrueHill, ...]:
        """Hills of those curves, loudest first."""
        return hills(self.curves, self.spec.car, self.warmth_over(self.curves.rpm))

    def warmth_over(self, rpm: FloatArray) -> FloatArray:
        """Mean warmth at each engine speed; what is loud counts more [shape=(n,)]."""
        every = slice(None, None, 10)
        apart = np.log(rpm[:, None] / self.motion.rpm[None, every]) / _SPEEDS_ALIKE
        heard = (0.1 + np.clip(self.motion.load[every], 0.0, 1.0)) ** 2
        weight = np.maximum(np.exp(-0.5 * apart**2), 1e-12) * heard
        return np.asarray(weight @ self.warmth[every] / weight.sum(axis=1))

    @cached_property
    def turns(self) -> FloatArray:
        """True crank phase at each sample, in revolutions."""
        rate_hz = self.spec.sample_rate_hz
        return self.motion.turns_at(np.arange(self.engine_sound.size) / rate_hz)

    @cached_property
    def rows_late_s(self) -> float:
        """How late the rows of rpm are against the sound, which is late itself."""
        rate_hz = self.spec.sample_rate_hz
        return late_s(self.spec.log) - sound_late_s(self.engine_sound, self.turns, rate_hz)

    def driven_curve(self, order: float, edges_rpm: FloatArray) -> FloatArray:
        """Level of one order in bins of rpm as it was driven, from the engine's sound alone."""
        rate_hz = self.spec.sample_rate_hz
        return measured_curve(self.engine_sound, self.turns, rate_hz, order, edges_rpm)

    def noise_curve(self, order: float, edges_rpm: FloatArray) -> FloatArray:
        """The same of all that is not the engine."""
        rate_hz = self.spec.sample_rate_hz
        return measured_curve(self.other_sound, self.turns, rate_hz, order, edges_rpm)


@dataclass(frozen=True, kw_only=True)
class RoadDrive:
    """Sound [shape=(n,) or (n, 2), -1..1], telemetry as logged, and the truth beside them."""

    spec: RoadSpec
    samples: NDArray[np.float32]
    sample_rate_hz: float
    telemetry: pd.DataFrame
    truth: RoadTruth

    def drive(self, channel: int = 0) -> Drive:
        """As the analysis takes it; ``channel`` counts from 0 and matters in stereo only."""
        samples = self.samples if self.samples.ndim == 1 else self.samples[:, channel]
        return Drive(
            name=self.spec.name,
            engine=Engine(cylinders=len(self.spec.engine.cylinders)),
            sound=Sound.from_array(samples, self.sample_rate_hz),
            telemetry=self.telemetry,
        )


def drive_on(spec: RoadSpec, seed: int) -> RoadDrive:
    """Drive once; the same spec and seed give the same samples."""
    motion = drive_motion(spec.driver, np.random.default_rng([seed, 0]))
    shut = motion.deactivated(spec.engine.deactivation, spec.driver.gearing.top)
    count = round(spec.driver.duration_s * spec.sample_rate_hz)
    time_s = np.arange(count) / spec.sample_rate_hz
    warmth = warmth_of(spec.car, motion)
    pulses = Pulses(spec.engine, motion, shut, np.random.default_rng([seed, 1]))
    engine = _engine_sound(spec, pulses, motion, warmth, time_s, np.random.default_rng([seed, 2]))
    engine = unit(engine)
    other = _all_else(spec, motion, time_s, seed)
    sound = engine + other
    return RoadDrive(
        spec=spec,
        samples=recorded(spec.recorder, sound, spec.sample_rate_hz).astype(np.float32),
        sample_rate_hz=spec.sample_rate_hz,
        telemetry=log_rows(spec.log, motion, np.random.default_rng([seed, 3])),
        truth=RoadTruth(
            spec=spec,
            motion=motion,
            shut=shut,
            engine_sound=engine,
            other_sound=other,
            warmth=warmth,
        ),
    )


def warmth_of(car: CarSpec, motion: Motion) -> FloatArray:
    """Speed of sound in the exhaust over its mean, on the motion's grid."""
    heat = np.clip(motion.load, 0.0, 1.0) * np.clip(motion.rpm / 4000.0, 0.2, 1.2)
    step_s = float(motion.grid_s[1] - motion.grid_s[0])
    keep = float(np.exp(-step_s / car.gas_s))
    slow = signal.lfilter([1.0 - keep], [1.0, -keep], heat, zi=[keep * 0.3])[0]
    return np.asarray(1.0 + car.gas_swing * (slow - 0.35))


def _engine_sound(
    spec: RoadSpec,
    pulses: Pulses,
    motion: Motion,
    warmth: FloatArray,
    time_s: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    car, rate_hz = spec.car, spec.sample_rate_hz
    sos = signal.butter(2, _HISS_HZ, "highpass", fs=rate_hz, output="sos")
    hiss = decibels(spec.engine.flow_noise_db) * np.asarray(
        signal.sosfilt(sos, rng.normal(size=time_s.size))
    )
    port = pulses.sound(EXHAUST, time_s, 0, hiss)
    if any(cylinder.bank for cylinder in spec.engine.cylinders):
        second = decibels(car.bank_level_db) * pulses.sound(EXHAUST, time_s, 1, hiss)
        port = port + delayed(second, car.bank_delay_s * rate_hz)
    port = port + _pops(spec, motion, port, time_s, rng)
    moved = motion.at(warmth, block_times(time_s.size, rate_hz))
    total = apply_way(car.exhaust, port, rate_hz, moved)
    if car.intake is not None:
        total = total + apply_way(car.intake, pulses.sound(INTAKE, time_s, None), rate_hz)
    if car.structure is not None:
        total = total + apply_way(car.structure, pulses.sound(STRUCTURE, time_s, None), rate_hz)
    return apply_resonances(car.cabin, total, rate_hz)


def _pops(
    spec: RoadSpec, motion: Motion, port: FloatArray, time_s: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Bangs on overrun above 1,800 rpm, each as strong as several pulses."""
    out = np.zeros(time_s.size)
    size = float(np.abs(port).max())
    for at_s in rng.uniform(0.0, time_s[-1], rng.poisson(spec.engine.pops_per_s * time_s[-1])):
        here = int(np.searchsorted(motion.grid_s, at_s))
        if motion.load[here] < 0.1 and motion.rpm[here] > 1800.0:
            start = round(at_s * spec.sample_rate_hz)
            x = np.arange(round(0.03 * spec.sample_rate_hz)) / (0.0012 * spec.sample_rate_hz)
            bang = size * float(rng.uniform(0.3, 1.5)) * 0.5 * x**2 * np.exp(-x)
            out[start : start + bang.size] += bang[: out.size - start]
    return out


def _all_else(spec: RoadSpec, motion: Motion, time_s: FloatArray, seed: int) -> FloatArray:
    rate_hz = spec.sample_rate_hz
    total = road_noise(
        spec.noise, spec.car.cabin, motion, time_s, rate_hz, np.random.default_rng([seed, 4])
    )
    if spec.hum is not None:
        total = total + hum(spec.hum, time_s, np.random.default_rng([seed, 5]))
    if spec.music_db is not None:
        song = music(time_s.size, rate_hz, np.random.default_rng([seed, 6]))
        # the cabin lifts it where it lifts the engine
        song = apply_resonances(spec.car.cabin, song, rate_hz)
        total = total + decibels(spec.music_db) * unit(song)
    if spec.speech_db is not None:
        words = speech(time_s.size, rate_hz, np.random.default_rng([seed, 7]))
        total = total + decibels(spec.speech_db) * words
    return total
