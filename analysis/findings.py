"""What ``find`` found, frozen: bands, the curves behind them, and what is in doubt."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any

import numpy as np

from analysis.basics.arrays import BoolArray, ComplexArray, FloatArray, IntArray
from analysis.basics.interval import SURE, Interval
from analysis.drive import Engine, Trouble

STANDING = -1  # the number of no gear, for the car at a standstill
COASTING = -2  # the band's road speed, with the engine at another speed than the band's

_NEAR_S = 0.5  # a moment this far from the nearest known engine speed still has it


class LockedTo(StrEnum):
    """What a band follows: it stays at one engine speed, or at one road speed, in every gear."""

    ENGINE = "engine"
    ROAD = "road"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A doubt about the result: a fixed code, and a few sentences that end with what to do."""

    code: str
    message: str
    may_hide: bool = False  # a drone may be there that was not found
    is_advice: bool = False  # how to measure or build: no doubt about this result


@dataclass(frozen=True, slots=True, kw_only=True)
class GearView:
    """How much of a band's rise shows in one gear: 1 is all of it, 0 nothing."""

    gear: int  # 0 is the lowest gear seen; or STANDING, or COASTING
    share_of_rise: float
    road_speed_m_s: float  # at the band's peak

    @property
    def is_standing(self) -> bool:
        """Whether the car stood still."""
        return self.gear == STANDING

    @property
    def is_coasting(self) -> bool:
        """Whether the car went as fast as in the band, with the engine elsewhere."""
        return self.gear == COASTING


class LoadClass(StrEnum):
    """What the driver's foot did, by the logged load or, without one, by the engine speed."""

    HEAVY = "heavy load"
    LIGHT = "light load"
    CLIMBING = "engine speed rising"
    FALLING = "engine speed falling"


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadView:
    """A band under one class of load, at engine speeds that both classes held.

    ``load_part`` is the mean part of full load, None when it was not logged; ``share_of_rise`` as
    in :class:`GearView`, None when this class did not drive through all of the band.
    """

    load: LoadClass
    load_part: float | None
    level_db: float
    share_of_rise: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DroneBand:
    """One stretch of rpm in which one engine order stands up as a hill.

    The peak is that of the resonance fitted to the hill, or the nearest place where the level is
    hardly lower than at the hill's top.
    ``low``/``high`` are the half-power points: 3 dB below the peak of the order's level with the
    background and a straight line under the hill removed. ``rise_db`` is how far the level itself
    falls from the peak on the side where it falls less, ``level_db`` the order's own level at the
    peak (see :attr:`Findings.level_unit`). ``by_gear`` and
    ``by_load`` show it in parts of the drive, the louder load first.
    """

    engine_order: float
    peak_rpm: float
    low_rpm: float
    high_rpm: float
    rise_db: float
    level_db: float
    locked_to: LockedTo
    peak_hz_ci95: Interval
    low_hz_ci95: Interval
    high_hz_ci95: Interval
    by_gear: tuple[GearView, ...] = ()
    by_load: tuple[LoadView, ...] = ()

    @property
    def peak_hz(self) -> float:
        """Frequency of the order at the peak."""
        return self.engine_order * self.peak_rpm / 60.0

    @property
    def low_hz(self) -> float:
        """Lower half-power frequency."""
        return self.engine_order * self.low_rpm / 60.0

    @property
    def high_hz(self) -> float:
        """Upper half-power frequency."""
        return self.engine_order * self.high_rpm / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Climb:
    """One order's level that climbs on at ``rpm``, an end of what was driven.

    ``from_rpm`` is where the climb begins, ``climb_db`` how far it goes, ``level_db`` the level
    where it ends.
    """

    engine_order: float
    rpm: float
    from_rpm: float
    climb_db: float
    level_db: float

    @property
    def is_fast(self) -> bool:
        """Whether it goes to the fast end, not to the slow one."""
        return self.rpm > self.from_rpm


@dataclass(frozen=True, slots=True, kw_only=True)
class PassCurve:
    """A level over rpm, one row for each rpm bin and pass that has data.

    A pass is one uninterrupted climb or fall of engine speed, or a rest. All arrays
    [shape=(n_points,)].

    Attributes
    ----------
    pass_index : which pass a point belongs to, 0-based
    rising : whether engine speed rose over that pass; a climb is under load, a fall is not
    bin_index : which of the fixed rpm bins (:mod:`analysis.basics.rpm_bins`)
    rpm : mean engine speed of the point
    total_ms, background_ms : mean square, and what of it is noise; full scale squared
    seconds : how long the engine was in this bin in this pass
    gear, load_part : as in :class:`analysis.find.curves.driven.Driven`; NaN where not known
    """

    pass_index: IntArray
    rising: BoolArray
    bin_index: IntArray
    rpm: FloatArray
    total_ms: FloatArray
    background_ms: FloatArray
    seconds: FloatArray
    gear: FloatArray
    load_part: FloatArray

    def pass_columns(self) -> dict[str, Any]:
        """Give the arrays that every kind of curve has, by name, to build another kind from."""
        return {each.name: getattr(self, each.name) for each in fields(PassCurve)}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCurve(PassCurve):
    """One engine order's level: ``total_ms`` in its bandwidth, ``background_ms`` noise under it.

    Attributes
    ----------
    trend_db, fitted_db : the smoothed level without the bands' resonances, and with them, as
        10 lg of such a mean square, no background; NaN where the order is too weak, and outside the
        engine speeds that were swept
    """

    engine_order: float
    trend_db: FloatArray
    fitted_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TailSound:
    """One order in the cabin over the same order at the tail, rpm rising.

    Arrays [shape=(n_points,)].

    Attributes
    ----------
    ratio : complex, up to the gain of both microphones and the delay between them
    sigma : noise of its real and of its imaginary part, over its size
    tail_db : level at the tail; its zero is arbitrary
    """

    engine_order: float
    rpm: FloatArray
    ratio: ComplexArray
    sigma: FloatArray
    tail_db: FloatArray


class Weighting(StrEnum):
    """Frequency weighting of an overall level (IEC 61672-1)."""

    Z = "Z"  # none
    C = "C"
    A = "A"


@dataclass(frozen=True, slots=True, kw_only=True)
class OverallPasses(PassCurve):
    """The overall level, pass by pass; no background is known of it, so that is zero."""

    weighting: Weighting


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelMap:
    """Level over engine speed and frequency, for the colour map.

    ``level_db`` [shape=(n_rpm, n_frequency)]; rpm bins without data are NaN.
    """

    rpm: FloatArray
    frequency_hz: FloatArray
    level_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderMap:
    """Level over engine speed and engine order, for the colour map.

    ``level_db`` [shape=(n_rpm, n_orders)]; only engine speeds with data have a row.
    """

    rpm: FloatArray
    engine_order: FloatArray
    level_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyTone:
    """A tone that stays at one frequency over a stretch of engine speed."""

    frequency_hz: float
    low_rpm: float
    high_rpm: float
    out_db: float  # above what is around it


@dataclass(frozen=True, slots=True, kw_only=True)
class OverallCurve:
    """Overall level over rpm, unweighted, C- and A-weighted; all arrays [shape=(n_bins,)]."""

    rpm: FloatArray
    level_z_db: FloatArray
    level_c_db: FloatArray
    level_a_db: FloatArray
    seconds: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TelemetryDelay:
    """How late telemetry rows are against the sound; positive is late."""

    delay_s: float
    ci95_s: Interval
    drift_ppm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineSpeed:
    """Engine speed on the sound's clock, thinned for a picture; arrays [shape=(n_times,)]."""

    time_s: FloatArray
    rpm: FloatArray
    sigma_part: FloatArray  # standard deviation of rpm, as a part of it; NaN where not measured
    gear_index: FloatArray  # 0 is the lowest gear seen, -1 standing still; NaN where not known

    def rpm_at(self, moment_s: float) -> float:
        """Engine speed at a moment; NaN where it is not known."""
        if self.time_s.size == 0:
            return float("nan")
        nearest = int(np.abs(self.time_s - moment_s).argmin())
        step_s = float(np.median(np.diff(self.time_s))) if self.time_s.size > 1 else 0.0
        if abs(self.time_s[nearest] - moment_s) > max(step_s, _NEAR_S):
            return float("nan")
        return float(self.rpm[nearest])

    def known_to_percent(self, of_drive: float) -> float:
        """Half a 95 % interval that holds in so many percent of the drive; NaN if not measured."""
        known = self.sigma_part[np.isfinite(self.sigma_part)]
        return 100.0 * SURE * float(np.percentile(known, of_drive)) if known.size else float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause of one or more bands.

    ``bands`` are numbers of :attr:`Findings.bands`, counted from 1; the texts are whole sentences.
    """

    frequency_hz: float
    bands: tuple[int, ...]
    locked_to: LockedTo
    evidence: tuple[str, ...]
    suspects: tuple[str, ...]
    to_decide: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """Everything ``find`` learned from one drive."""

    drive_name: str
    engine: Engine | None
    bands: tuple[DroneBand, ...]  # that which troubles people most first
    curves: tuple[OrderCurve, ...]  # every half order to 12
    overall: OverallCurve
    level_map: LevelMap | None  # None for a drive without sound
    order_map: OrderMap | None  # the same
    engine_speed: EngineSpeed
    telemetry_delay: TelemetryDelay | None
    level_unit: str  # "dB re full scale" (of a full-scale sine), "dB SPL", "dB(A)", ...
    full_scale_db: float  # added to 10 lg(mean square) to give level_unit
    levels_only: bool
    duration_s: float
    warnings: tuple[Doubt, ...]
    trouble: tuple[Trouble, ...]
    marks_s: tuple[float, ...] = ()  # moments that somebody in the car marked
    withheld: str | None = None  # why no band is reported, though the drive may hold one
    overall_passes: tuple[OverallPasses, ...] = ()  # ``overall`` pass by pass, each weighting known
    gear_ratios: tuple[float, ...] = ()  # engine rpm for 1 m/s, of each gear; lowest gear first
    load_column: str | None = None  # of the telemetry, that load was taken from
    is_flattened: bool = False  # the microphone's response was known and taken out
    level_was_held: bool = False  # by the recorder; its gain was undone, as far as could be told
    causes: tuple[Cause, ...] = ()  # that of the worst band first; each band has one
    tail: tuple[TailSound, ...] = ()  # of each order that drones, where a microphone was there
    firing_layout: tuple[str, ...] = ()  # what the orders say of the engine, in sentences

    @property
    def no_levels(self) -> str | None:
        """Why no level of this drive may be laid beside another drive's; None when it may."""
        if self.withheld is None and self.level_was_held:
            return "the recorder held its level"
        return self.withheld

    def curve(self, engine_order: float) -> OrderCurve | None:
        """Give the curve of an order, None where there is none."""
        return next((c for c in self.curves if c.engine_order == engine_order), None)

    def at_tail(self, engine_order: float) -> TailSound | None:
        """Give an order's sound at the tail, None where no microphone was."""
        return next((t for t in self.tail if t.engine_order == engine_order), None)

    def cause_of(self, band: DroneBand) -> Cause | None:
        """Give what makes a band, None where nothing was worked out."""
        number = self.bands.index(band) + 1
        return next((cause for cause in self.causes if number in cause.bands), None)

    def followed_by(self, band: DroneBand) -> LockedTo:
        """Say what a band follows: what any band of its resonance shows."""
        cause = self.cause_of(band)
        return band.locked_to if cause is None else cause.locked_to

    def band_at(self, rpm: float) -> int | None:
        """Give the number of the band, counted from 1, that holds this engine speed."""
        inside = (n for n, b in enumerate(self.bands, start=1) if b.low_rpm <= rpm <= b.high_rpm)
        return next(inside, None)

    @property
    def driven_rpm(self) -> tuple[float, float]:
        """Lowest and highest engine speed that the drive covered."""
        return float(self.overall.rpm.min()), float(self.overall.rpm.max())
