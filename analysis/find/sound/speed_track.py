"""Engine speed as a function of time, from telemetry rows or refined from the sound.

How other columns of these rows are read between rows stands here too.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray
from analysis.errors import DriveError

# judgement: what rpm is believed, and where rows leave a gap. Wider limits let a slip of the log
# draw a sweep, narrower ones lose the ends of a drive. 20 % more moves nothing, but of _GRID_STEP_S
# a rise by 0.2 dB.
_LOWEST_RPM = 300.0  # below this an engine is being started or stopped
_HIGHEST_RPM = 16_000.0  # OBD-II shows 16,383.75 when all bits are set, by a slip
_LONGEST_STEP_S = 3.0  # rows further apart than this, and than 5 usual steps, leave a gap
_GRID_STEP_S = 0.05  # no flywheel lets the speed change faster
_LONG_STEP_S = 2.0  # judgement: rpm may go up and down again in a longer gap
_CHUNK = 50_000  # judgement: time against memory, no answer changes


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedTrack:
    """Engine speed on an even time grid; NaN where it is not known.

    Attributes
    ----------
    start_s, step_s : float
        Time of the first grid point, and between grid points.
    rpm : ndarray [shape=(n_times,)]
    """

    start_s: float
    step_s: float
    rpm: FloatArray

    @property
    def time_s(self) -> FloatArray:
        """Times of the grid points [shape=(n_times,)]."""
        return self.start_s + self.step_s * np.arange(self.rpm.size, dtype=np.float64)

    @property
    def known_s(self) -> float:
        """For how long it is known, in all."""
        return self.step_s * int(np.count_nonzero(np.isfinite(self.rpm)))

    @property
    def revolutions(self) -> FloatArray:
        """Crankshaft turns since the start [shape=(n_times,)]; stands still across gaps."""
        per_s = np.nan_to_num(self.rpm) / 60.0
        steps = 0.5 * (per_s[1:] + per_s[:-1]) * self.step_s
        return np.concatenate([[0.0], np.cumsum(steps)])

    def at(self, time_s: FloatArray) -> FloatArray:
        """Engine speed at any times, linear between grid points; NaN outside and in gaps."""
        position = (time_s - self.start_s) / self.step_s
        inside = (position >= 0.0) & (position < self.rpm.size - 1)
        position = np.where(inside, position, 0.0)
        index = position.astype(np.int64)
        before, after = self.rpm.take(index), self.rpm.take(index + 1, mode="clip")
        return np.where(inside, before + (position - index) * (after - before), np.nan)


def has_engine_speed(telemetry: pd.DataFrame) -> bool:
    """Whether any row holds an engine speed."""
    return "rpm" in telemetry.columns and bool(telemetry["rpm"].notna().any())


def track_from_rows(telemetry: pd.DataFrame) -> SpeedTrack:
    """Straight lines between telemetry rows, with gaps where rows are missing.

    Raises
    ------
    DriveError
        Fewer than two rows hold an engine speed.
    """
    if not has_engine_speed(telemetry):
        raise DriveError(
            "this drive has no engine speed; join it to a log of rpm with pipenote import, or "
            "record again with --rpm obd:auto"
        )
    rows = telemetry[["time_s", "rpm"]].dropna()
    rows = rows[rows["rpm"].between(_LOWEST_RPM, _HIGHEST_RPM)]
    time_s = rows["time_s"].to_numpy(dtype=np.float64)
    rpm = rows["rpm"].to_numpy(dtype=np.float64)
    if time_s.size < 2:
        raise DriveError(
            f"this drive has {time_s.size} rows with an engine speed between "
            f"{_LOWEST_RPM:,.0f} and {_HIGHEST_RPM:,.0f} rpm; at least two are needed: check the "
            "rpm column of the telemetry"
        )
    grid = np.arange(time_s[0], time_s[-1] + 0.5 * _GRID_STEP_S, _GRID_STEP_S)
    values = np.interp(grid, *without_stairs(time_s, rpm))
    for start, end in gaps_between(time_s):
        values[(grid > start) & (grid < end)] = np.nan
    return SpeedTrack(start_s=float(grid[0]), step_s=_GRID_STEP_S, rpm=values)


def without_stairs(time_s: FloatArray, rpm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Knots of a line that does not climb the steps of a coarse log; arrays [shape=(n_knots,)].

    An engine computer that rounds to 25 rpm repeats a value until the next step is due. When a
    value changes, the engine was half-way between both; that moment is a better point of the line
    than the ends of the step. A value that comes once stays where it is, one that stands for
    longer than two seconds stays so all but its last second.
    """
    edge = np.flatnonzero(np.diff(rpm) != 0.0)
    first, last = np.append(0, edge + 1), np.append(edge, rpm.size - 1)
    is_repeated = last > first
    is_long = time_s[last] - time_s[first] > _LONG_STEP_S
    steps = edge[is_repeated[:-1] | is_repeated[1:]]
    knots_s = np.concatenate(
        [
            time_s[first][~is_repeated],
            time_s[first][is_long] + 0.5 * _LONG_STEP_S,
            time_s[last][is_long] - 0.5 * _LONG_STEP_S,
            0.5 * (time_s[steps] + time_s[steps + 1]),
            time_s[[0, -1]],
        ]
    )
    values = np.concatenate(
        [
            rpm[first][~is_repeated],
            rpm[first][is_long],
            rpm[first][is_long],
            0.5 * (rpm[steps] + rpm[steps + 1]),
            rpm[[0, -1]],
        ]
    )
    knots_s, order = np.unique(knots_s, return_index=True)
    return knots_s, values[order]


def told_at(telemetry: pd.DataFrame, column: str, row_s: FloatArray) -> FloatArray:
    """Straight lines between the rows that hold a value; NaN in gaps, outside, and without any."""
    unknown = np.full(row_s.size, np.nan)
    if column not in telemetry.columns:
        return unknown
    rows = telemetry[["time_s", column]].dropna()
    if len(rows) < 2:
        return unknown
    time_s = rows["time_s"].to_numpy(dtype=np.float64)
    values = rows[column].to_numpy(dtype=np.float64)
    told: FloatArray = np.interp(row_s, time_s, values, left=np.nan, right=np.nan)
    # a line through a gap would be made up
    for start_s, end_s in gaps_between(time_s):
        told[(row_s > start_s) & (row_s < end_s)] = np.nan
    return told


def gaps_between(time_s: FloatArray) -> list[tuple[float, float]]:
    """Stretches between rows that are too long to bridge."""
    steps = np.diff(time_s)
    too_long = steps > max(_LONGEST_STEP_S, 5.0 * float(np.median(steps)))
    return [(float(time_s[i]), float(time_s[i + 1])) for i in np.flatnonzero(too_long)]


def shifted(track: SpeedTrack, delay_s: float, drift_ppm: float, duration_s: float) -> SpeedTrack:
    """Put the track on the sound's clock, when rows are ``delay_s`` late and their clock drifts.

    A row stamped ``t + delay_s + 1e-6 * drift_ppm * (t - duration_s / 2)`` belongs to sound
    time ``t``: the delay is stated for the middle of the sound.
    """
    count = int(duration_s / track.step_s) + 1
    rpm = np.empty(count)
    for first in range(0, count, _CHUNK):  # a drive of hours is long
        index = np.arange(first, min(first + _CHUNK, count), dtype=np.float64)
        row_s = row_times(track.step_s * index, delay_s, drift_ppm, duration_s)
        rpm[first : first + _CHUNK] = track.at(row_s)
    return SpeedTrack(start_s=0.0, step_s=track.step_s, rpm=rpm)


def row_times(
    sound_s: FloatArray, delay_s: float, drift_ppm: float, duration_s: float
) -> FloatArray:
    """Stamp of the telemetry row that belongs to each moment of the sound; any shape."""
    return sound_s + delay_s + 1e-6 * drift_ppm * (sound_s - 0.5 * duration_s)
