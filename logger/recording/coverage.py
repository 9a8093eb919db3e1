"""Which engine speeds a drive has covered so far, how well, and what is still missing.

What ``find`` needs: every engine speed of the driving range passed slowly, more than once, in two
gears at least, because only another gear tells the engine's drone from the road's.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import groupby

from logger.recording.gear_watch import GearWatch

# judgement: advice on the screen and colours of it; nothing recorded depends on them.
BIN_RPM = 100.0
ENOUGH_S = 2.0  # in each bin and gear: a sweep of 50 rpm a second; common practice, no source
TOO_FAST_RPM_PER_S = 100.0  # faster than this a sweep smears its drones; common practice, no source
USUAL_RANGE_RPM = (1200.0, 3400.0)
GEARS_WANTED = 2

# judgement: as above, advice only.
_HIGHEST_RPM = 12_000.0
_LONGEST_STEP_S = 1.5  # between two readings; longer, nobody knows what was between
_RATE_OVER_S = 1.0
_WIDE_BINS = 3  # more bins than this in a row are driven through, fewer are held


@dataclass(frozen=True, slots=True, kw_only=True)
class CoveredBin:
    """One stretch of engine speed, ``BIN_RPM`` wide.

    Attributes
    ----------
    seconds : float
        Slow enough to be of use.
    hurried_s : float
        Too fast to be of use.
    gears : int
        In how many known gears for long enough.
    """

    low_rpm: float
    seconds: float
    hurried_s: float
    gears: int

    @property
    def is_covered(self) -> bool:
        """Whether this will do for one sweep at least."""
        return self.seconds >= ENOUGH_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """All bins of the driving range, rising, and the one thing to do next, in words."""

    bins: tuple[CoveredBin, ...]
    knows_gears: bool
    advice: str


@dataclass(slots=True)
class _Bin:
    of_gear: dict[int | None, float] = field(default_factory=dict)
    hurried_s: float = 0.0

    @property
    def seconds(self) -> float:
        return sum(self.of_gear.values())


class CoverageWatch:
    """Feed it readings as they come.

    Parameters
    ----------
    driving_range_rpm : (float, float) or None
        From the car file; without it a usual one, which grows with what is driven.
    """

    def __init__(self, driving_range_rpm: tuple[float, float] | None) -> None:
        self._is_given = driving_range_rpm is not None
        low_rpm, high_rpm = driving_range_rpm or USUAL_RANGE_RPM
        self._low, self._high = int(low_rpm // BIN_RPM), math.ceil(high_rpm / BIN_RPM)
        self._bins: dict[int, _Bin] = {}
        self._gears = GearWatch()
        self._speed_m_s: float | None = None
        self._speed_at_s = -math.inf
        self._knows_gears = False
        self._recent: list[tuple[float, float]] = []

    def note(self, quantity: str, at_s: float, value: float) -> None:
        """Take a reading; what is neither ``rpm`` nor ``road_speed_m_s`` changes nothing."""
        if quantity == "rpm":
            self._note_rpm(at_s, value)
        elif quantity == "road_speed_m_s":
            self._speed_at_s, self._speed_m_s = at_s, value

    def _note_rpm(self, at_s: float, rpm: float) -> None:
        # an old road speed with new rpm makes a gear that the car has not
        fresh = at_s - self._speed_at_s < _LONGEST_STEP_S
        gear = self._gears.gear(rpm, self._speed_m_s if fresh else None)
        self._knows_gears = self._knows_gears or gear is not None
        # before the list is cut: it holds a second, and a step may be longer
        before_s = self._recent[-1][0] if self._recent else -math.inf
        self._recent = [each for each in self._recent if at_s - each[0] < _RATE_OVER_S]
        self._recent.append((at_s, rpm))
        step_s = at_s - before_s
        if not 0.0 < step_s < _LONGEST_STEP_S or not 0.0 < rpm < _HIGHEST_RPM:
            return
        place = self._bins.setdefault(int(rpm // BIN_RPM), _Bin())
        if self._rate_rpm_per_s() > TOO_FAST_RPM_PER_S:
            place.hurried_s += step_s
        else:
            place.of_gear[gear] = place.of_gear.get(gear, 0.0) + step_s

    def look(self) -> Coverage:
        """Tell how it stands."""
        if not self._is_given:
            driven = [index for index, place in self._bins.items() if place.seconds >= ENOUGH_S]
            self._high = max([self._high, *(index + 1 for index in driven)])
        bins = tuple(self._covered(index) for index in range(self._low, self._high))
        return Coverage(
            bins=bins, knows_gears=self._knows_gears, advice=_advice(bins, self._knows_gears)
        )

    def _covered(self, index: int) -> CoveredBin:
        place = self._bins.get(index) or _Bin()
        known = [s for gear, s in place.of_gear.items() if gear is not None]
        return CoveredBin(
            low_rpm=index * BIN_RPM,
            seconds=place.seconds,
            hurried_s=place.hurried_s,
            gears=sum(seconds >= ENOUGH_S for seconds in known),
        )

    def _rate_rpm_per_s(self) -> float:
        (first_s, first_rpm), (last_s, last_rpm) = self._recent[0], self._recent[-1]
        return abs(last_rpm - first_rpm) / (last_s - first_s) if last_s > first_s else 0.0


def driving_range_rpm(car: Mapping[str, object] | None) -> tuple[float, float] | None:
    """Take the driving range from a car file's content, which was checked when it was read."""
    engine = None if car is None else car.get("engine")
    asked = engine.get("driving_range_rpm") if isinstance(engine, Mapping) else None
    if not isinstance(asked, list) or len(asked) != 2:
        return None
    return float(asked[0]), float(asked[1])


def _advice(bins: tuple[CoveredBin, ...], knows_gears: bool) -> str:
    """Say the one thing that helps most."""
    if not any(each.seconds or each.hurried_s for each in bins):
        return f"Drive slowly from {_span(bins)} in top gear: half a minute up, half a minute down."
    missing = _longest_run([not each.is_covered for each in bins])
    if missing:
        gap = bins[missing[0] : missing[1]]
        if len(gap) <= _WIDE_BINS:
            return f"Hold {_span(gap)} for a few seconds, in top gear."
        hurried = sum(each.hurried_s for each in gap) > sum(each.seconds for each in gap)
        how = "again, more slowly," if hurried else "once, slowly,"
        return f"Sweep {_span(gap)} {how} in top gear."
    if knows_gears:
        wanting = [each.gears < GEARS_WANTED for each in bins]
        another = "in another gear"
    else:
        wanting = [each.seconds < GEARS_WANTED * ENOUGH_S for each in bins]
        another = "in another gear, and write down which: no road speed is recorded"
    again = _longest_run(wanting)
    if again:
        return f"Sweep {_span(bins[again[0] : again[1]])} once more {another}."
    return "Enough for an answer. More slow sweeps make the answer surer."


def _longest_run(wanting: list[bool]) -> tuple[int, int] | None:
    """First and one past the last of the longest run; None when there is none."""
    runs = []
    start = 0
    for wanted, group in groupby(wanting):
        end = start + sum(1 for _ in group)
        if wanted:
            runs.append((start, end))
        start = end
    return max(runs, key=lambda run: run[1] - run[0], default=None)


def _span(bins: tuple[CoveredBin, ...]) -> str:
    return f"{bins[0].low_rpm:,.0f} to {bins[-1].low_rpm + BIN_RPM:,.0f} rpm"
