"""``telemetry.csv`` while it grows: a reading a line, and at the end every time set anew.

While the recording runs a reading is placed on the sound's clock as well as is known by then; a
recording that is killed keeps those times, a few milliseconds off. At the end the whole of both
clocks is known, and with it the file is written once more.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
from array import array
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from logger.atomic import replace_file
from logger.session_folder import TELEMETRY_FILE
from logger.sources.contract import QUANTITIES, Reading

FloatArray = NDArray[np.float64]
PlaceTimes = Callable[[FloatArray, FloatArray], FloatArray]

_COLUMNS = ("time_s", *QUANTITIES, "half_round_trip_s")
_STEP_S = 1e-6  # times are written in steps of this


class TelemetryLog:
    """Append readings to a new ``telemetry.csv`` in a folder.

    Raises
    ------
    OSError
        From every method: the disk is full or gone.
    """

    def __init__(self, folder: Path) -> None:
        self.row_count = 0
        self._path = folder / TELEMETRY_FILE
        self._midpoint_s = array("d")
        self._frame = array("d")  # NaN where the reading did not come out of the sound
        self._last_time_s = -np.inf
        self._file = self._path.open("x", encoding="utf-8", newline="\n", buffering=1)
        self._file.write(",".join(_COLUMNS) + "\n")

    def append(self, reading: Reading, time_s: float) -> None:
        """Write one reading with its time as far as it is known.

        A reading out of the sound has its exact time, and may come late: whoever reads the file
        sorts the rows. The others keep their order.
        """
        if reading.frame is None:
            time_s = max(time_s, self._last_time_s + _STEP_S)
            self._last_time_s = time_s
        self._file.write(_line(reading, time_s))
        self._midpoint_s.append(reading.midpoint_s)
        self._frame.append(np.nan if reading.frame is None else reading.frame)
        self.row_count += 1

    def sync(self) -> None:
        """Wait until the disk holds everything."""
        os.fsync(self._file.fileno())

    def close(self) -> None:
        """Close the file as it is."""
        self._file.close()

    def finish(self, place: PlaceTimes) -> None:
        """Close the file, and write it anew with the times of ``place(midpoint_s, frame)``."""
        self._file.close()
        if self.row_count == 0:
            self._path.unlink()
            return
        header, *lines = self._path.read_text(encoding="utf-8").splitlines()
        times_s = place(np.array(self._midpoint_s), np.array(self._frame))
        order = np.argsort(times_s, kind="stable")
        rising_s = _strictly_rising(times_s[order])
        cells = (lines[row].partition(",")[2] for row in order)
        rows = [f"{time_s:.6f},{rest}" for time_s, rest in zip(rising_s, cells, strict=True)]
        replace_file(self._path, ("\n".join((header, *rows)) + "\n").encode("utf-8"))


def _line(reading: Reading, time_s: float) -> str:
    cells = [f"{reading.value:.6g}" if name == reading.quantity else "" for name in QUANTITIES]
    return f"{time_s:.6f},{','.join(cells)},{reading.half_round_trip_s:.6f}\n"


def _strictly_rising(times_s: FloatArray) -> FloatArray:
    steps = np.arange(times_s.size) * _STEP_S
    return np.asarray(np.maximum.accumulate(np.round(times_s, 6) - steps) + steps)
