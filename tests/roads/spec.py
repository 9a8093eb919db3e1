"""What a road drive is made of: engine, ways to the microphone, driver, noise, recorder, rpm log.

Plain frozen types; with a seed a ``RoadSpec`` fixes every sample. Sizes are judgement: they are
ranges that cars, cabins and recorders have, and move only what the drives are like.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Cause(StrEnum):
    """Where a hill comes from."""

    EXHAUST = "exhaust"
    INTAKE = "intake"
    CABIN = "cabin"
    STRUCTURE = "structure"
    SOURCE = "source"  # how cylinders and paths add up; no resonance of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """How one cylinder differs from the mean of all."""

    fires_deg: float  # 0 to below 720
    bank: int = 0
    level_db: float = 0.0
    timing_deg: float = 0.0
    width_share: float = 0.0
    echo: float = 0.0  # what its runner sends back, share of the pulse
    echo_s: float = 0.004
    delay_s: float = 0.0  # how much later than others its runner lets the pulse through


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Standard deviations from cycle to cycle; grow towards idle and overrun."""

    level_db: float = 0.8
    timing_deg: float = 2.0
    width_share: float = 0.04
    wander_db: float = 0.6  # slow, over seconds, each cylinder by itself
    wander_s: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Deactivation:
    """Every second cylinder in firing order is shut in top gear at light load."""

    low_rpm: float = 1400.0
    high_rpm: float = 2400.0
    highest_load: float = 0.6
    lift_db: float = 4.0  # what those that still fire have to give more


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineSpec:
    """A four-stroke engine as a source of pressure pulses.

    ``climb`` are points (rpm, dB) of the level of the pulses under full load, never falling;
    between them the curve rises without overshoot.
    """

    layout: str
    cylinders: tuple[Cylinder, ...]
    pulse_deg: float = 16.0  # time constant of a pulse at 2,000 rpm
    pulse_rpm_exponent: float = 0.3
    climb: tuple[tuple[float, float], ...] = ((700.0, -8.0), (2000.0, 0.0), (6000.0, 8.0))
    overrun_db: float = -16.0  # level of the pulses with the throttle shut
    scatter: Scatter = Scatter()
    flow_noise_db: float = -18.0  # hiss in step with the pulses, relative to them
    pops_per_s: float = 0.0  # bangs of unburnt fuel in the pipe on overrun
    deactivation: Deactivation | None = None

    @property
    def firing_order(self) -> float:
        """Pulses in one turn of the crank."""
        return len(self.cylinders) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Resonance:
    """One term g R(f) of a transfer 1 + sum g R(f); |R| = 1 at ``frequency_hz``.

    ``phase_rad`` turns g away from real: towards pi it makes a hole, in between a peak beside a
    hole. ``q`` is one over the half-power width of R.
    """

    cause: Cause
    frequency_hz: float
    gain: float
    q: float
    phase_rad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """From a source of pulses to the microphone: corner frequencies, resonances, level."""

    level_db: float = 0.0
    high_pass_hz: float = 35.0
    low_pass_hz: float = 400.0
    resonances: tuple[Resonance, ...] = ()
    delay_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CarSpec:
    """Ways from the engine into the cabin.

    ``bank_level_db`` and ``bank_delay_s`` are the second bank's pipe beside the first one's.
    ``gas_swing`` is how far the speed of sound in the exhaust moves between overrun and long full
    load, as a share; ``gas_s`` how slowly.
    """

    exhaust: Way = Way()
    intake: Way | None = None
    structure: Way | None = None
    cabin: tuple[Resonance, ...] = ()
    bank_level_db: float = 0.0
    bank_delay_s: float = 0.0
    gas_swing: float = 0.04
    gas_s: float = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gearing:
    """Engine turns per wheel turn, gear by gear, and the wheel."""

    ratios: tuple[float, ...] = (3.6, 2.1, 1.4, 1.0, 0.8)
    final_drive: float = 3.6
    wheel_m: float = 1.95

    def speed_m_s(self, rpm: float, gear: int) -> float:
        """Road speed at this engine speed in this gear, counted from 1."""
        return rpm / 60.0 * self.wheel_m / (self.ratios[gear - 1] * self.final_drive)

    @property
    def top(self) -> int:
        """The highest gear."""
        return len(self.ratios)


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One thing the driver does: reach this engine speed in this time, in this gear and load.

    ``gear`` 0 is standing still, None is clutch down while rolling.
    """

    duration_s: float
    end_rpm: float
    gear: int | None
    load: float = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """The whole of a drive's legs, and how unsteady foot, road and engine are."""

    start_rpm: float
    legs: tuple[Leg, ...]
    gearing: Gearing = Gearing()
    wobble: float = 0.05  # how far a slow leg strays from a straight line, share of its span
    flutter_rpm: float = 5.0
    idle_hunt_rpm: float = 15.0
    shuffle_rpm: float = 60.0  # what a full step of load adds as a dying swing of 2 to 5 Hz
    shuffle_hz: float = 3.0

    @property
    def duration_s(self) -> float:
        """Length of the drive."""
        return sum(leg.duration_s for leg in self.legs)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadNoise:
    """Tyres, wind and the recorder itself, in dB of the engine's level, at 25 m/s."""

    tyres_db: float = -12.0
    cavity_hz: float = 210.0
    cavity_db: float = 8.0
    wind_db: float = -15.0
    gust_db: float = 4.0  # how far the wind rises in gusts
    floor_db: float = -50.0
    clicks_per_s: float = 0.0
    click_db: float = 15.0  # of a click's peak


@dataclass(frozen=True, slots=True, kw_only=True)
class Hum:
    """A steady tone with harmonics; ``level_db`` of all together, in dB of the engine's level."""

    frequency_hz: float
    level_db: float
    harmonics_db: tuple[float, ...] = (0.0, -8.0, -14.0)
    wander_share: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Leveller:
    """A recorder that holds the level.

    The gain in dB that would bring the level to ``target_dbfs`` is approached with the time
    constant ``attack_s`` when the gain must fall and ``release_s`` when it may rise, up to
    ``most_gain_db``. Below ``gate_dbfs`` the gain stays as it is; None is no gate. ``strength`` is
    the share of each change in level that is taken away in the end.
    """

    attack_s: float = 0.02
    release_s: float = 1.0
    target_dbfs: float = -20.0
    most_gain_db: float = 30.0
    gate_dbfs: float | None = None
    strength: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorder:
    """What the recorder makes of the sound, in this order."""

    peak_dbfs: float = -6.0  # of the loudest sample before the leveller
    high_pass_hz: float = 0.0
    leveller: Leveller | None = None
    limit_dbfs: float | None = None
    clip_db: float = 0.0  # how far the peaks go beyond full scale
    turned_down_db: float = 0.0  # after clipping
    codec: str | None = None  # of tests.roads.codecs
    dead_left: bool = False  # stereo, with nothing on the first channel
    drift_ppm: float = 0.0  # positive: the recorder's clock runs fast


@dataclass(frozen=True, slots=True, kw_only=True)
class RpmLog:
    """How the rpm rows were made, and how badly."""

    rate_hz: float = 5.0
    lag_s: float = 0.3
    jitter_s: float = 0.02
    step_rpm: float = 1.0
    smoothing_s: float = 0.1
    noise_rpm: float = 0.0
    factor: float = 1.0
    dropped_share: float = 0.0
    gap_s: float = 0.0  # one stretch without rows
    spikes_per_minute: float = 0.0
    road_speed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadSpec:
    """One drive in full. Levels of music and speech are in dB of the engine's level, None is none.

    The engine's level is the root mean square of its sound at the microphone over the whole drive.
    """

    name: str
    engine: EngineSpec
    car: CarSpec
    driver: Driver
    sample_rate_hz: float = 8000.0
    noise: RoadNoise = RoadNoise()
    hum: Hum | None = None
    music_db: float | None = None
    speech_db: float | None = None
    recorder: Recorder = Recorder()
    log: RpmLog = RpmLog()
