"""What a generated drive is made of: engine, pipe, road, driver, telemetry. Plain frozen types."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

from tests.garage.spec import TrueCar, Welded

CROSS_PLANE_BANK_DEG = (0.0, 90.0, 270.0, 540.0)  # intervals 90-180-270-180


def even_fire(cylinders: int) -> tuple[float, ...]:
    """Crank angles at which an evenly firing four-stroke engine sends its pulses."""
    return tuple(720.0 * index / cylinders for index in range(cylinders))


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The engine as a source of pulses.

    ``level_db_spl`` is the level of order ``cylinders / 2`` at the microphone at 2,000 rpm and
    full load, with every resonator switched off; all else scales with it.
    """

    cylinders: int = 6  # of the car; a pipe that carries one bank has fewer pulses
    firing_deg: tuple[float, ...] = even_fire(6)  # rising, 0 to below 720
    level_db_spl: float = 86.0
    rpm_exponent: float = 0.8  # pressure grows with rpm to this power
    pulse_revolutions: float = 0.03  # time constant of the pulse at 2,000 rpm
    pulse_rpm_exponent: float = 0.3  # the pulse lasts a little less in time, more in crank angle
    cylinder_imbalance: float = 0.03  # standard deviation, cylinder to cylinder
    cycle_variation: float = 0.03  # standard deviation, pulse to pulse


@dataclass(frozen=True, slots=True, kw_only=True)
class Resonator:
    """One term g R(f) of a transfer 1 + sum g R(f); |R| = 1 at ``frequency_hz``.

    ``phase_rad`` turns g away from real, which makes the peak lopsided.
    """

    frequency_hz: float
    gain: float
    q: float
    phase_rad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothTransfer:
    """The slow frequency dependence from exhaust valve to microphone."""

    high_pass_hz: float = 18.0
    low_pass_hz: float = 350.0
    hump_hz: float = 90.0
    hump_db: float = 2.0
    hump_q: float = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBranch:
    """A closed branch as a shunt in an echo-free pipe: reflection and resistance at its mouth."""

    tuned_hz: float
    area_ratio: float = 0.6
    round_trip_loss: float = 0.03  # share of the pressure lost on the way in and out
    mouth_resistance: float = 0.03  # in units of the branch's own wave impedance


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeExhaust:
    """A line of pipes in place of resonators, with what is welded on; gas as at one speed."""

    car: TrueCar
    at_rpm: float
    branches: tuple[Welded, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Everything the microphone hears that is not the exhaust; levels at 25 m/s."""

    road_db_spl: float = 74.0  # 5 Hz to 1 kHz
    wind_db_spl: float = 72.0  # mostly below 40 Hz
    self_db_spl: float = 42.0  # microphone and still cabin, white up to half the sample rate


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadTone:
    """A tone in step with the road wheels: a driveline shaft or a tyre, through a resonance."""

    cycles_per_metre: float
    level_db_spl: float = 70.0  # at 25 m/s, away from the resonance
    resonator: Resonator | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One thing the driver does: take this long to reach this engine speed in this gear.

    ``gear`` counts from 1; 0 is the car at a standstill, None is clutch down or
    neutral. ``load`` scales the pulses' pressure.
    """

    duration_s: float
    end_rpm: float
    gear: int | None
    load: float = 1.0

    def is_sweep(self, start_rpm: float) -> bool:
        """Whether this leg is a slow, wide change of engine speed."""
        return self.duration_s >= 8.0 and abs(self.end_rpm - start_rpm) > 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gearing:
    """Engine revolutions per wheel revolution, gear by gear, and the wheel."""

    ratios: tuple[float, ...] = (3.6, 2.1, 1.4, 1.0, 0.8)
    final_drive: float = 3.5
    wheel_circumference_m: float = 1.95

    def speed_m_s(self, rpm: float, gear: int) -> float:
        """Road speed at this engine speed in this gear."""
        return rpm / 60.0 * self.wheel_circumference_m / (self.ratios[gear - 1] * self.final_drive)


@dataclass(frozen=True, slots=True, kw_only=True)
class TelemetrySpec:
    """How the rpm rows were made, and how badly."""

    rate_hz: float = 4.0
    delay_s: float = 0.4
    clock_offset_s: float = 0.0
    clock_drift_ppm: float = 0.0  # positive: the telemetry clock runs fast
    jitter_s: float = 0.01  # standard deviation of each stamp
    rpm_step: float = 1.0
    dropped_share: float = 0.0
    smoothing_s: float = 0.0  # time constant of the engine computer's own low-pass
    road_speed: bool = True
    load: bool = False
    road_speed_step_m_s: float = 1.0 / 3.6


DEFAULT_LEGS = (
    Leg(duration_s=3.0, end_rpm=1100.0, gear=3, load=0.6),
    Leg(duration_s=30.0, end_rpm=3800.0, gear=3),
    Leg(duration_s=3.0, end_rpm=3800.0, gear=3, load=0.8),
    Leg(duration_s=30.0, end_rpm=1100.0, gear=3, load=0.8),
    Leg(duration_s=3.0, end_rpm=1100.0, gear=3, load=0.6),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TailMicrophone:
    """A second one near the tailpipe: louder, later by the air between, in wind of its own."""

    gain: float = 3.0
    late_s: float = 0.005
    wind_db_spl: float = 80.0  # white up to half the sample rate


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveSpec:
    """One drive in full; with a seed it fixes every sample."""

    name: str = "generated drive"
    sample_rate_hz: float = 8000.0
    full_scale_db_spl: float = 124.0  # mean square of a full-scale sine
    source: Source = Source()
    smooth: SmoothTransfer = SmoothTransfer()
    exhaust: tuple[Resonator, ...] | WholeExhaust = (
        Resonator(frequency_hz=112.0, gain=3.0, q=9.0),
    )
    cabin: tuple[Resonator, ...] = ()  # small ripples, which road noise passes as well
    branch: SideBranch | None = None
    shaken: float = 0.0  # of what enters the exhaust, heard in the cabin past the exhaust
    tail: TailMicrophone | None = None
    noise: Noise = Noise()
    road_tone: RoadTone | None = None
    gearing: Gearing = Gearing()
    start_rpm: float = 1100.0
    legs: tuple[Leg, ...] = DEFAULT_LEGS
    sweep_wobble: float = 0.06  # how far a sweep strays from a straight line, share of its span
    pass_spread_db: float = 0.0  # standard deviation of the source, leg to leg
    day_spread_db: float = 0.0  # the same, outing to outing
    speed_flutter_rpm: float = 4.0  # standard deviation of what the foot and the road add
    telemetry: TelemetrySpec = TelemetrySpec()

    @property
    def duration_s(self) -> float:
        """Length of the drive."""
        return sum(leg.duration_s for leg in self.legs)

    @property
    def driven_rpm(self) -> tuple[float, float]:
        """Lowest and highest engine speed of all."""
        ends = [self.start_rpm, *(leg.end_rpm for leg in self.legs)]
        return min(ends), max(ends)

    @property
    def swept_rpm(self) -> tuple[float, float]:
        """Lowest and highest engine speed that any slow sweep covers; (0, 0) without one."""
        start = self.start_rpm
        ends: list[float] = []
        for leg in self.legs:
            if leg.is_sweep(start):
                ends += [start, leg.end_rpm]
            start = leg.end_rpm
        return (min(ends), max(ends)) if ends else (0.0, 0.0)


def swept_spec(telemetry: TelemetrySpec) -> DriveSpec:
    """Describe one sweep up and one down in third gear."""
    legs = (
        Leg(duration_s=20.0, end_rpm=3500.0, gear=3),
        Leg(duration_s=15.0, end_rpm=1200.0, gear=3),
    )
    return DriveSpec(start_rpm=1200.0, legs=legs, telemetry=telemetry)
