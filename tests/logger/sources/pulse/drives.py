"""Drives with an ignition pickup: drawn at random, heard by the source, and held against truth."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from logger.arrays import FloatArray
from logger.sources.contract import Reading, SourceTrouble
from logger.sources.pulse.source import PulseSource
from tests.drives.motion import Motion, drive_motion
from tests.drives.spec import DriveSpec, Leg
from tests.logger.sources.pulse.channel import Ignition, PulseChannel, make_channel

ARRIVED_S = 100.0  # perf_counter at frame 0
_BLOCK = 960


@dataclass(frozen=True, slots=True, kw_only=True)
class Pickup:
    """A drive, its ignition, and the channel that came of it."""

    spec: DriveSpec
    motion: Motion
    ignition: Ignition
    channel: PulseChannel

    @property
    def rate_hz(self) -> int:
        return self.ignition.sample_rate_hz

    def stereo(self, cabin: NDArray[np.float32] | None = None) -> NDArray[np.float32]:
        """Cabin in the first channel, pickup in the second."""
        pulses = self.channel.samples
        left = np.zeros_like(pulses) if cabin is None else cabin[: pulses.size]
        return np.stack([left, pulses[: left.size]], axis=1).astype(np.float32)


@dataclass(slots=True, kw_only=True)
class Heard:
    """What a source made of the sound."""

    source: PulseSource
    readings: list[Reading]
    troubles: list[SourceTrouble]

    @property
    def codes(self) -> list[str]:
        return [trouble.code for trouble in self.troubles]

    @property
    def frames(self) -> FloatArray:
        return np.array([_frame(reading) for reading in self.readings])

    @property
    def rpm(self) -> FloatArray:
        return np.array([reading.value for reading in self.readings])


def pickup(legs: tuple[Leg, ...], start_rpm: float, ignition: Ignition, seed: int = 1) -> Pickup:
    """Drive these legs; the engine sound that crosses over is band noise."""
    spec = DriveSpec(start_rpm=start_rpm, legs=legs)
    rng = np.random.default_rng(seed)
    motion = drive_motion(spec, rng)
    count = round(spec.duration_s * ignition.sample_rate_hz)
    band = signal.butter(2, [30, 600], "band", fs=ignition.sample_rate_hz, output="sos")
    engine = np.asarray(signal.sosfilt(band, rng.normal(size=count)))
    engine /= np.abs(engine).max()
    channel = make_channel(ignition, motion, spec.duration_s, rng, engine)
    return Pickup(spec=spec, motion=motion, ignition=ignition, channel=channel)


def listen(
    sound: NDArray[np.float32],
    rate_hz: int,
    word: str = "2",
    *,
    cylinders: int | None = None,
    stroke_cycle: int = 4,
    breaks: tuple[int, ...] = (),
) -> Heard:
    """Let a source hear it all; before the frames of ``breaks`` sound was lost."""
    source = PulseSource(word, cylinders=cylinders, stroke_cycle=stroke_cycle)
    heard = Heard(source=source, readings=[], troubles=[])
    for first in range(0, sound.shape[0], _BLOCK):
        if any(first <= frame < first + _BLOCK for frame in breaks):
            source.break_off()
        block = sound[first : first + _BLOCK]
        arrived_s = ARRIVED_S + (first + block.shape[0]) / rate_hz
        source.hear(block, first_frame=first, sample_rate_hz=rate_hz, arrived_s=arrived_s)
        while (event := source.read(0.0)) is not None:
            if isinstance(event, Reading):
                heard.readings.append(event)
            else:
                heard.troubles.append(event)
    return heard


def errors(heard: Heard, made: Pickup) -> FloatArray:
    """Share by which each rpm is wrong, against the engine's speed at its frame.

    A value is the mean over at least 0.1 s and a working cycle. Where the speed turns a corner the
    mean differs from the middle by rpm'' T^2 / 24; that much is no error.
    """
    at_s = heard.frames / made.rate_hz
    rpm = made.motion.rpm(at_s)
    span_s = np.maximum(0.1, 120.0 / rpm) + 60.0 / rpm / made.ignition.pulses_per_turn
    bend = np.abs(made.motion.rpm_spline.derivative(2)(at_s))
    off = np.abs(heard.rpm - rpm)
    return np.asarray(np.maximum(0.0, off - bend * span_s**2 / 24.0) / rpm)


def random_pickup(rng: np.random.Generator, *, faults: bool = True, rounds: int = 3) -> Pickup:
    """Idle, ``rounds`` times through the gears, idle: 500 to 9,000 rpm, any pickup and line-in."""
    idle, top = float(rng.uniform(500, 950)), float(rng.uniform(3500, 9000))
    idling = Leg(duration_s=4.0, end_rpm=idle, gear=None, load=0.2)
    legs = [idling]
    for _ in range(rounds):
        legs += [
            _leg(rng, (2.0, 12.0), (0.6 * top, top), gear=2, load=1.0),
            _leg(rng, (0.3, 1.5), (1200.0, 2600.0), gear=None, load=0.1),
            _leg(rng, (2.0, 8.0), (1800.0, 3500.0), gear=3, load=0.6),
        ]
    legs.append(idling)
    height = float(10.0 ** rng.uniform(-1.6, 0.3))  # beyond full scale too
    ignition = Ignition(
        pulses_per_turn=float(rng.choice([0.5, 1.0, 1.5, 2.0, 3.0, 4.0])),
        sample_rate_hz=int(rng.choice([44_100, 48_000, 96_000])),
        ring_hz=float(rng.uniform(5_000.0, 18_000.0)),
        ring_decay_s=float(rng.uniform(0.05e-3, 0.2e-3)),
        height=height,
        height_exponent=float(rng.uniform(-0.5, 1.0)),
        height_variation=float(rng.uniform(0.05, 0.15)),
        polarity=float(rng.choice([-1.0, 1.0])),
    )
    if faults:
        ignition = replace(
            ignition,
            jitter_deg=float(rng.uniform(0.0, 1.5)),
            advance_deg=float(rng.uniform(0.0, 20.0)),
            missed_share=0.02,
            double_share=0.02,
            hum_level=0.1 * min(1.0, height),
            crosstalk_level=0.1 * min(1.0, height),
            noise_level=min(1.0, height) * float(10.0 ** rng.uniform(-3.5, -2.3)),
        )
    return pickup(tuple(legs), idle, ignition, seed=int(rng.integers(2**31)))


def _leg(
    rng: np.random.Generator,
    duration_s: tuple[float, float],
    end_rpm: tuple[float, float],
    *,
    gear: int | None,
    load: float,
) -> Leg:
    return Leg(
        duration_s=float(rng.uniform(*duration_s)),
        end_rpm=float(rng.uniform(*end_rpm)),
        gear=gear,
        load=load,
    )


def _frame(reading: Reading) -> float:
    assert reading.frame is not None
    return reading.frame
