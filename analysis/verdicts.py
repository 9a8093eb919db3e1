"""What ``compare`` concluded from two drives, frozen."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from enum import StrEnum

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.branches import SlidingCap
from analysis.findings import Doubt, DroneBand, SteadyTone, Weighting


class Condition(StrEnum):
    """What can be alike in two drives, beside engine speed."""

    GEAR = "gear"
    LOAD = "load"
    DIRECTION = "direction"  # climb, fall or rest of engine speed


Conditions = frozenset[Condition]


class Verdict(StrEnum):
    """Whether it worked."""

    CURED = "cured"
    REDUCED = "reduced"
    UNCHANGED = "unchanged"
    WORSE = "worse"
    MOVED = "moved"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class GainChange:
    """What gain or microphone place seem to have done to every level of the post-fix drive.

    ``is_taken_off``: every level compared is without it, and its standard uncertainty ``sd_db`` is
    in the intervals. Otherwise it is a suspicion, and levels are as recorded.
    """

    gain_db: float
    sd_db: float
    is_taken_off: bool

    @property
    def arm_db(self) -> float:
        """Half of its 95 % interval."""
        return SURE * self.sd_db


def taken_off(gain: GainChange | None) -> GainChange | None:
    """Give the gain that no level compared holds any more; None for none."""
    return gain if gain is not None and gain.is_taken_off else None


def suspected(gain: GainChange | None) -> GainChange | None:
    """Give the gain that the levels may hold; None for none."""
    return gain if gain is not None and not gain.is_taken_off else None


@dataclass(frozen=True, slots=True, kw_only=True)
class BandChange:
    """Change of one baseline band: its order's mean-square level over low_rpm..high_rpm.

    ``level_change_db`` and its interval are NaN when the verdict is ``cannot tell`` for want of
    common rpm; JSON shows null then. ``smallest_change_db`` is the smallest change that two such
    drives can show: with nothing changed, 95 of 100 pairs stay below it. It is NaN where they can
    show none.
    """

    band: DroneBand
    level_change_db: float
    ci95_db: Interval
    verdict: Verdict
    why: str  # one sentence
    smallest_change_db: float
    kept_alike: tuple[Condition, ...] = ()  # in both drives, beside engine speed
    highest_change_db: float = float("nan")  # of the drone's highest level, as size foretells it
    elsewhere_change_db: float = float("nan")  # of its order's highest level away from the drones


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutPart:
    """Time of one drive that was not compared, for one reason."""

    reason: str  # "engine speed", or a :class:`analysis.compare.match.like_with_like.Condition`
    seconds: float
    what: str  # which engine speeds, gears, loads or directions


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """How much of one drive was compared; a sweep counts as compared if any of it was."""

    drive_name: str
    sweeps: int
    sweeps_compared: int
    seconds: float
    seconds_compared: float
    parts: tuple[LeftOutPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Matching:
    """What was kept alike over the whole of two drives, beside engine speed."""

    kept: tuple[Condition, ...]
    known: tuple[Condition, ...]  # what both drives tell
    left_out: tuple[LeftOut, LeftOut]  # of the baseline, of the post-fix drive


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBeforeAfter:
    """One order over the rpm bins that both drives hold, background removed; [shape=(n_bins,)]."""

    engine_order: float
    rpm: FloatArray
    before_db: FloatArray
    after_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Louder:
    """A stretch of engine speeds where an order rose by up to ``rise_db``.

    It stays ``under_db`` under the highest level that the drone had.
    """

    low_rpm: float
    high_rpm: float
    rise_db: float
    under_db: float


class DrivePart(StrEnum):
    """Part of a drive, as :mod:`analysis.compare.overall_change` tells them apart."""

    IDLE = "idle"
    CRUISE = "cruise"
    WHOLE = "whole drive"


@dataclass(frozen=True, slots=True, kw_only=True)
class OverallBeforeAfter:
    """Overall level over the rpm bins that both drives hold; arrays [shape=(n_bins,)]."""

    weighting: Weighting
    rpm: FloatArray
    before_db: FloatArray
    after_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PartChange:
    """Change of the overall level over one part of the drives."""

    part: DrivePart
    weighting: Weighting
    low_rpm: float
    high_rpm: float
    before_db: float
    after_db: float
    change_db: float
    ci95_db: Interval
    kept_alike: tuple[Condition, ...]  # beside engine speed


@dataclass(frozen=True, slots=True, kw_only=True)
class Trim:
    """How far to shorten a branch (negative: lengthen), from where it really works.

    ``is_worth_it`` is false where the branch works so near to where it should, or where that is so
    uncertain, that cutting gains nothing. Intervals are of 95 %. Of a can on a neck only the can is
    trimmed; of ``built_length_m``, ``neck_m`` is neck, zero for plain tube. ``cap`` is the sleeve
    that the cap slides on, None for a fixed one. ``legs`` are the pipes that each have one such
    branch; none named where the exhaust is one pipe.
    """

    branch: int  # 1-based
    built_length_m: float
    cut_m: float
    ci95_m: Interval
    works_at_hz: float
    wanted_hz: float
    gas_temperature_k: float
    gas_temperature_ci95_k: Interval
    is_worth_it: bool
    neck_m: float = 0.0
    cap: SlidingCap | None = None
    legs: tuple[str, ...] = ()

    @property
    def part_m(self) -> float:
        """Length as built of the part to trim: the can alone, or the whole of a plain branch."""
        return self.built_length_m - self.neck_m


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimOutlook:
    """What all trims together would do, worked out on the whole exhaust, against the baseline.

    ``now_db`` and ``then_db`` change the drone's highest level, ``elsewhere_*`` that in the rest of
    the driving range (-inf without a rest); all medians of the credible cases. ``cured_*_share`` is
    the share of those cases that are cured, without and with the trims.
    """

    is_worth_it: bool
    now_db: float
    then_db: float
    then_ci95_db: Interval
    elsewhere_now_db: float
    elsewhere_then_db: float
    cured_now_share: float
    cured_then_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """A second branch at the place kept for it, beside the one that was built.

    ``length_m``, ``position_m`` and ``legs`` are as in :class:`analysis.branches.Branch`;
    ``first_m`` is how long the built one should be beside it. ``outlook`` is that of both.
    """

    length_m: float
    position_m: float
    legs: tuple[str, ...]
    bore_m: float
    first_m: float
    outlook: TrimOutlook


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Baseline against post-fix."""

    baseline_name: str
    postfix_name: str
    changes: tuple[BandChange, ...]  # in the order of the baseline's bands
    new_bands: tuple[DroneBand, ...]  # in the post-fix drive only
    curves: tuple[OrderBeforeAfter, ...]  # orders of all bands of either drive
    trims: tuple[Trim, ...]
    warnings: tuple[Doubt, ...]
    whistles: tuple[SteadyTone, ...] = ()
    other_curves: tuple[OrderBeforeAfter, ...] = ()  # of every other order that both drives hold
    overall: tuple[OverallBeforeAfter, ...] = ()  # each weighting that both drives have
    gain: GainChange | None = None  # None where both drives seem recorded alike
    parts: tuple[PartChange, ...] = ()  # by weighting, then idle, cruise and the whole drive
    level_unit: str = "dB"  # of all levels
    is_of_levels: bool = False  # only overall levels were compared, for want of sound
    matching: Matching | None = None  # None when the drives share no order
    trim_outlook: TrimOutlook | None = None  # None where trims go by frequency alone
    addition: Addition | None = None  # None where no place was kept, or nothing can be told
