"""From a column of time stamps to seconds: units, epochs, midnight."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from logger.arrays import FloatArray
from logger.errors import TelemetryError
from logger.importing.tables.row_order import COARSE_ROWS_PER_STAMP
from logger.importing.tables.time_text import (
    TimeReader,
    clock_seconds,
    iso_seconds,
    short_clock_seconds,
)
from logger.importing.tables.units import UNITS, Unit, asked_unit, find_unit

_DAY_S = 86400.0
_SHORT_CLOCKS = ("min:s", "h:min")  # what a person says of times such as 10:05
_HOUR_S = 3600.0
_EPOCH_RANGE_S = (1.0e9, 4.0e9)  # the years 2001 to 2096
_ELAPSED_UNTIL_S = 60.0
_LONGEST_STEP_IN_S = 2.0
# judgement: loggers print 0.1 to 50 rows a second; outside it the unit is asked for
_STEPS_IN_MS = (20.0, 10_000.0)
_SHORTEST_STEP_IN_S = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Seconds, NaN where there is no time, and what they are counted from.

    ``is_relative`` is true for the file's own seconds, false for a clock or a date; ``start`` is
    the moment of 0 s when the stamps say a date and a zone. ``is_assumed`` says that only the
    size of the steps tells the unit.
    """

    seconds: FloatArray
    unit: str
    is_relative: bool
    start: datetime | None = None
    notes: tuple[str, ...] = ()
    is_assumed: bool = False


def times_from_numbers(
    values: FloatArray, *, column: str, unit: str, asked: str | None, strange: str = ""
) -> Times:
    """Turn plain numbers into seconds; ``strange`` is what the file says in place of a unit.

    Raises
    ------
    TelemetryError
        The unit is not known, or neither name nor numbers tell it.
    """
    notes: tuple[str, ...] = ()
    if asked is not None:
        known: Unit | None = asked_unit("time", "--time-unit", asked)
    else:
        known = find_unit("time", unit)
    if known is None:
        known = _unit_from_size(values) or _unit_from_steps(values, column, strange)
        notes = (f'"{column}" names no unit; its steps fit {known.name}.',)
    seconds = values * known.factor
    first = first_finite(seconds)
    is_date = _EPOCH_RANGE_S[0] <= first <= _EPOCH_RANGE_S[1]
    return Times(
        is_assumed=bool(notes) and not is_date,
        seconds=seconds,
        unit=known.name,
        is_relative=not is_date,
        start=datetime.fromtimestamp(first, UTC) if is_date else None,
        notes=notes,
    )


def times_from_clock(
    values: FloatArray, reader: TimeReader, *, has_zone: bool, asked: str | None = None
) -> Times:
    """Turn what a reader of clock times gave into seconds that go on behind midnight.

    Raises
    ------
    TelemetryError
        Times such as ``10:05`` may be of minutes or of hours, and nobody said which.
    """
    if reader is short_clock_seconds and _has_hours(values, asked):
        values, reader = 60.0 * values, clock_seconds
    first = first_finite(values)
    if reader is iso_seconds:
        start = datetime.fromtimestamp(first, UTC) if has_zone and 0 <= first < 4e9 else None
        return Times(seconds=values, unit="date", is_relative=False, start=start)
    period_s = _HOUR_S if reader is short_clock_seconds else _DAY_S
    seconds, turns = _unrolled(values, period_s)
    if turns == 0 and reader is clock_seconds:
        seconds, turns = _unrolled_half_days(values)
    notes = (f"The clock starts again {turns} times and is taken to go on.",) if turns else ()
    unit = "min:s" if reader is short_clock_seconds else "h:min:s"
    return Times(seconds=seconds, unit=unit, is_relative=first < _ELAPSED_UNTIL_S, notes=notes)


def _has_hours(values: FloatArray, asked: str | None) -> bool:
    """Tell whether ``10:05`` is of hours and minutes, not of minutes and seconds."""
    if asked is not None and asked.strip().lower() in _SHORT_CLOCKS:
        return asked.strip().lower() == _SHORT_CLOCKS[1]
    good = values[np.isfinite(values)]
    if (good != np.round(good)).any() or good.max() >= _DAY_S / 60.0:
        return False
    span_s = float(good.max() - good.min())
    raise TelemetryError(
        f'times such as "{int(good[0]) // 60}:{int(good[0]) % 60:02d}" may be minutes and seconds '
        f"({_length(span_s)} long) or hours and minutes ({_length(60.0 * span_s)} long); give "
        f"--time-unit {' or '.join(_SHORT_CLOCKS)}"
    )


def _unit_from_size(values: FloatArray) -> Unit | None:
    first = first_finite(values)
    for name in ("s", "ms", "us", "ns"):
        unit = UNITS["time"][name]
        if _EPOCH_RANGE_S[0] <= first * unit.factor <= _EPOCH_RANGE_S[1]:
            return unit
    return None


def _unit_from_steps(values: FloatArray, column: str, strange: str) -> Unit:
    good = values[np.isfinite(values)]
    steps = np.diff(good)
    moves = np.abs(steps[steps != 0.0])
    if not moves.size:
        raise TelemetryError(
            f'the time column "{column}" holds one time only; choose another with --time-column'
        )
    step = float(np.median(moves))
    # several rows for each time: seconds, or as well minutes
    is_coarse = good.size >= COARSE_ROWS_PER_STAMP * (moves.size + 1) and moves.size >= 2
    if not strange and not is_coarse and _SHORTEST_STEP_IN_S <= step <= _LONGEST_STEP_IN_S:
        return UNITS["time"]["s"]
    if not strange and not is_coarse and _STEPS_IN_MS[0] <= step < _STEPS_IN_MS[1]:
        return UNITS["time"]["ms"]
    span = float(good.max() - good.min())
    lengths = ", ".join(
        f"{unit.name} ({_length(span * unit.factor)} long)"
        for unit in dict.fromkeys(UNITS["time"].values())
    )
    told = f', "{strange}"' if strange else f" (steps of {step:.6g})"
    raise TelemetryError(
        f'the unit of the time column "{column}" is not clear{told}; '
        f'give --time-unit: {lengths}, or a multiple such as "0.1 s"'
    )


def _length(span_s: float) -> str:
    if span_s < 120.0:
        return f"{span_s:.2g} s"
    return f"{span_s / 60:.3g} min" if span_s < 7200.0 else f"{span_s / 3600:.3g} h"


def _unrolled(values: FloatArray, period_s: float) -> tuple[FloatArray, int]:
    good = np.isfinite(values)
    steps = np.diff(values[good], prepend=first_finite(values))
    return _going_on(values, steps < -0.5 * period_s, period_s)


def _unrolled_half_days(values: FloatArray) -> tuple[FloatArray, int]:
    """Go on behind 12:59:59 of a clock that shows twelve hours and no half of the day."""
    seconds = values[np.isfinite(values)]
    if not seconds.size or seconds.min() < _HOUR_S or seconds.max() >= 13 * _HOUR_S:
        return values, 0
    steps = np.diff(seconds, prepend=seconds[0])
    return _going_on(values, np.abs(steps + 0.5 * _DAY_S) < 30.0, 0.5 * _DAY_S)


def _going_on(
    values: FloatArray, turns: NDArray[np.bool_], period_s: float
) -> tuple[FloatArray, int]:
    """Add a period from each turn on; ``turns`` is of the finite values."""
    result = values.copy()
    result[np.isfinite(values)] += period_s * np.cumsum(turns)
    return result, int(turns.sum())


def first_finite(values: FloatArray) -> float:
    """Give the first number; NaN when there is none."""
    good = values[np.isfinite(values)]
    return float(good[0]) if good.size else float("nan")
