"""The engine as pressure pulses, cylinder by cylinder and cycle by cycle.

A pulse is s x^2 exp(-x) / 2 with x the time since the valve opened over the time constant w; its
spectrum is s w / (1 + j 2 pi f w)^3.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from scipy import signal
from scipy.interpolate import PchipInterpolator

from tests.roads.driver import Motion
from tests.roads.spec import Cylinder, EngineSpec, FloatArray, Scatter
from tests.roads.ways import ComplexArray, delayed

REFERENCE_RPM = 2000.0
_INTAKE_LATER_DEG = 360.0  # a four-stroke cylinder draws in one turn after it has blown out
_INTAKE_WIDER = 2.2  # judgement: drawing in takes longer than the burst of the exhaust valve
_INTAKE_SHUT_DB = -14.0  # judgement: what a shut throttle leaves of the intake
_STRUCTURE_WIDER = 1.6  # judgement: torque rises and falls more slowly than pressure


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A way in which every cylinder makes pulses: later, wider, falling with load otherwise."""

    later_deg: float = 0.0
    wider: float = 1.0
    shut_db: float | None = None  # None: as the engine says


EXHAUST = Kind()
INTAKE = Kind(later_deg=_INTAKE_LATER_DEG, wider=_INTAKE_WIDER, shut_db=_INTAKE_SHUT_DB)
STRUCTURE = Kind(wider=_STRUCTURE_WIDER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Events:
    """Pulses of one cylinder: when, how strong, how long [shape=(n,) each]."""

    time_s: FloatArray
    strength: FloatArray
    width_s: FloatArray


def strength(spec: EngineSpec, kind: Kind, rpm: FloatArray, load: FloatArray) -> FloatArray:
    """Mean strength of the pulses at an engine speed and load."""
    points = np.array(spec.climb)
    climb = PchipInterpolator(points[:, 0], points[:, 1])
    level_db = climb(np.clip(rpm, points[0, 0], points[-1, 0]))
    shut = 10.0 ** ((spec.overrun_db if kind.shut_db is None else kind.shut_db) / 20.0)
    return np.asarray(10.0 ** (level_db / 20.0) * (shut + (1.0 - shut) * np.clip(load, 0.0, 1.0)))


def width_s(spec: EngineSpec, kind: Kind, rpm: FloatArray) -> FloatArray:
    """Mean time constant of the pulses."""
    degrees = kind.wider * spec.pulse_deg * (rpm / REFERENCE_RPM) ** spec.pulse_rpm_exponent
    return np.asarray(degrees / (6.0 * rpm))


def order_amplitude(
    spec: EngineSpec, kind: Kind, order: float, rpm: FloatArray, load: float, bank: int | None
) -> ComplexArray:
    """Complex amplitude of one order of a steady engine; its mean square is half the square."""
    f = order * rpm / 60.0
    w = width_s(spec, kind, rpm)
    total = np.zeros(rpm.shape, dtype=np.complex128)
    for cylinder in spec.cylinders:
        if bank is not None and cylinder.bank != bank:
            continue
        own_w = w * (1.0 + cylinder.width_share)
        angle = np.radians(cylinder.fires_deg + cylinder.timing_deg + kind.later_deg)
        pulse = own_w / (1.0 + 2j * np.pi * f * own_w) ** 3
        echo = 1.0 + cylinder.echo * np.exp(-2j * np.pi * f * cylinder.echo_s)
        level = 10.0 ** (cylinder.level_db / 20.0)
        later = np.exp(-1j * (order * angle + 2.0 * np.pi * f * cylinder.delay_s))
        total += level * pulse * echo * later
    # Timing that scatters takes from the mean what it gives to the noise.
    blur = np.exp(-0.5 * (order * np.radians(spec.scatter.timing_deg)) ** 2)
    mean = strength(spec, kind, rpm, np.full(rpm.shape, load)) * rpm / 120.0
    return np.asarray(2.0 * mean * blur * total)


class Pulses:
    """All pulses of one drive; exhaust, intake and structure share strength and scatter."""

    def __init__(
        self, spec: EngineSpec, motion: Motion, shut: FloatArray, rng: np.random.Generator
    ) -> None:
        self._spec = spec
        self._motion = motion
        self._shut = shut
        self._scatter = [_scattered(spec.scatter, motion, rng) for _ in spec.cylinders]

    def events(self, number: int, kind: Kind) -> Events:
        """Pulses of one cylinder."""
        spec, motion = self._spec, self._motion
        cylinder = spec.cylinders[number]
        level_db, timing_deg, width_share = self._scatter[number]
        rough = _roughness(motion)
        cycles = np.arange(level_db.size) - 1.0
        angle_deg = cylinder.fires_deg + cylinder.timing_deg + kind.later_deg
        at_turns = 2.0 * cycles + angle_deg / 360.0
        first_guess_s = np.interp(at_turns, motion.revolutions, motion.grid_s)
        uneven = np.interp(first_guess_s, motion.grid_s, rough)
        at_turns = at_turns + uneven * timing_deg / 360.0
        time_s = _time_of(at_turns, motion)
        rpm = motion.at(motion.rpm, time_s)
        size = strength(spec, kind, rpm, motion.at(motion.load, time_s))
        size = size * 10.0 ** ((cylinder.level_db + uneven * level_db) / 20.0)
        size = size * self._firing(number, time_s)
        wide = width_s(spec, kind, rpm) * (1.0 + cylinder.width_share)
        wide = wide * np.clip(1.0 + uneven * width_share, 0.5, 2.0)
        return Events(time_s=time_s + cylinder.delay_s, strength=size, width_s=wide)

    def _firing(self, number: int, time_s: FloatArray) -> FloatArray:
        """1, or with half of the engine shut 0 for every second cylinder and more for the rest."""
        off = self._motion.at(self._shut, time_s) > 0.5
        deactivation = self._spec.deactivation
        lift = 10.0 ** (deactivation.lift_db / 20.0) if deactivation else 1.0
        return np.where(off, 0.0 if number % 2 else lift, 1.0)

    def sound(
        self, kind: Kind, time_s: FloatArray, bank: int | None, noise: FloatArray | None = None
    ) -> FloatArray:
        """Pressure at the ports of one bank, or of all; ``noise`` is blown out with the pulses."""
        total = np.zeros(time_s.size)
        step_s = float(time_s[1] - time_s[0])
        for number, cylinder in enumerate(self._spec.cylinders):
            if bank is not None and cylinder.bank != bank:
                continue
            pulses = _rendered(self.events(number, kind), time_s)
            if noise is not None:
                pulses = pulses * (1.0 + noise)
            if cylinder.echo:
                pulses = pulses + cylinder.echo * delayed(pulses, cylinder.echo_s / step_s)
            total += pulses
        return total


def _rendered(events: Events, time_s: FloatArray) -> FloatArray:
    """Each sample hears the latest pulse; the one before has died away by then."""
    start = np.searchsorted(time_s, events.time_s)
    lasting = np.diff(np.append(start, time_s.size))
    age_s = time_s[start[0] :] - np.repeat(events.time_s, lasting)
    x = age_s / np.repeat(events.width_s, lasting)
    sound = np.repeat(0.5 * events.strength, lasting) * x**2 * np.exp(-x)
    return np.concatenate([np.zeros(start[0]), sound])


def _time_of(turns: FloatArray, motion: Motion) -> FloatArray:
    """When the crank has made so many turns; before the start and after the end at steady speed."""
    time_s = np.interp(turns, motion.revolutions, motion.grid_s)
    early, late = turns < motion.revolutions[0], turns > motion.revolutions[-1]
    time_s[early] += (turns[early] - motion.revolutions[0]) * 60.0 / motion.rpm[0]
    time_s[late] += (turns[late] - motion.revolutions[-1]) * 60.0 / motion.rpm[-1]
    return np.asarray(np.maximum.accumulate(time_s))


def _roughness(motion: Motion) -> FloatArray:
    """How much more than at full load and speed the cycles differ: idle and overrun are rough."""
    idle = np.clip((1300.0 - motion.rpm) / 600.0, 0.0, 1.0)
    light = 1.0 - np.clip(motion.load / 0.4, 0.0, 1.0)
    return np.asarray(1.0 + 0.8 * np.maximum(idle, light))


def _scattered(
    spec: Scatter, motion: Motion, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Level in dB, timing in degrees and width of each cycle of one cylinder."""
    count = int(motion.revolutions[-1] // 2.0) + 4
    cycle_s = motion.grid_s[-1] / max(count - 3, 1)
    keep = float(np.exp(-cycle_s / spec.wander_s))
    drift = rng.normal(size=count + 200) * np.sqrt(1.0 - keep**2)
    wander = signal.lfilter([1.0], [1.0, -keep], drift)[200:]
    level_db = spec.level_db * rng.normal(size=count) + spec.wander_db * wander
    return (
        level_db,
        spec.timing_deg * rng.normal(size=count),
        spec.width_share * rng.normal(size=count),
    )


def evenly(count: int) -> tuple[Cylinder, ...]:
    """Cylinders all alike at even distances."""
    return tuple(Cylinder(fires_deg=720.0 * index / count) for index in range(count))
