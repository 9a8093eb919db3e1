"""What came of one fault, and the truth that its rows of rpm are laid beside."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray

LATE_S = 0.02  # more off the time of the computer is a fault
_SLOPE_RPM_PER_S = 40.0  # the car's steps of 0.25 rpm are 6 ms then
_IDLE_RPM = 1000.0
_WRONG_RPM, _WRONG_PART = 60.0, 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of one fault.

    Attributes
    ----------
    number : int
        Which one, for running it again.
    told : bool
        Whether it is in the session's list of trouble.
    late_s : float
        Worst error of time, of sound and rows; of a kill, the sound that is lost.
    rows, wrong : int
        Rows of rpm, and those of a value that the engine did not have.
    fault : str
        What is not as it must be; empty when all is well.
    """

    kind: str
    number: int
    told: bool
    late_s: float
    rows: int
    wrong: int
    fault: str = ""


def attempt(strike: Callable[[int], Outcome], kind: str, number: int) -> Outcome:
    """Strike; what goes wrong on the way is a fault too, and does not end the others."""
    try:
        return strike(number)
    except Exception as error:
        return broken(kind, number, error)


def broken(kind: str, number: int, error: Exception) -> Outcome:
    """Give what went wrong on the way as an outcome."""
    words = str(error).strip().splitlines() or [""]
    return Outcome(
        kind=kind,
        number=number,
        told=False,
        late_s=math.inf,
        rows=0,
        wrong=0,
        fault=f"{type(error).__name__}: {words[-1]}",
    )


class RisingEngine:
    """Engine speed that only rises, so that each value says by itself when it was true."""

    def __init__(self, slope_rpm_per_s: float = _SLOPE_RPM_PER_S) -> None:
        self._slope_rpm_per_s = slope_rpm_per_s
        self._start_s = time.perf_counter()

    def rpm_at(self, now_s: float) -> float:
        """Rpm at a moment of :func:`time.perf_counter`."""
        return _IDLE_RPM + self._slope_rpm_per_s * (now_s - self._start_s)

    def off_s(self, rows: pd.DataFrame, origin_s: float) -> FloatArray:
        """How far each row's time is outside of its own interval; session time 0 at ``origin_s``.

        Where a question and its answer take long, nobody knows better when it was true than half of
        that time, and the row says so.
        """
        true_s = self._start_s + (rows["rpm"].to_numpy() - _IDLE_RPM) / self._slope_rpm_per_s
        off_s = np.abs(rows["time_s"].to_numpy() + origin_s - true_s)
        return np.asarray(np.maximum(off_s - rows["half_round_trip_s"].to_numpy(), 0.0))

    def wrong_count(self, rows: pd.DataFrame, origin_s: float) -> int:
        """How many rows hold a value that the engine did not have."""
        true_s = rows["time_s"].to_numpy() + origin_s - self._start_s
        return wrong_count(rows["rpm"].to_numpy(), _IDLE_RPM + self._slope_rpm_per_s * true_s)


def wrong_count(rpm: FloatArray, true_rpm: FloatArray) -> int:
    """How many values are off by more than 5 % and 60 rpm, which no later stage would forgive."""
    return int(np.count_nonzero(np.abs(rpm - true_rpm) > _WRONG_RPM + _WRONG_PART * true_rpm))
