"""``telemetry.csv`` while it grows: a reading a line, and at the end every time set anew.

While the recording runs a reading is placed on the sound's clock as well as is known by then; a
recording that is killed keeps those times, a few milliseconds off. At the end the whole of both
clocks is known, and with it the file is written once more. What that takes waits in a nameless
file, so that a long drive needs no more memory than a short one.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import tempfile
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from logger.arrays import FloatArray
from logger.folder.atomic import replace_file
from logger.folder.disk_sync import sync_handle
from logger.folder.names import TELEMETRY_FILE
from logger.folder.quantities import QUANTITIES
from logger.sources.contract import Reading

PlaceTimes = Callable[[FloatArray, FloatArray], FloatArray]

_COLUMNS = ("time_s", *QUANTITIES, "half_round_trip_s")
# judgement: times are written in steps of this; at 6,000 rpm an engine turns by 0.04 degrees in it.
_STEP_S = 1e-6
_ROWS_AT_ONCE = 8192
# a reading out of the sound comes so much later than it was, at most; judgement: a longer wait
# costs memory
_LATEST_S = 30.0


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
        self._last_time_s = -np.inf
        # line by line: a recording that is killed lacks one reading, not a buffer of them
        self._file = self._path.open("x", encoding="utf-8", newline="\n", buffering=1)
        self._file.write(",".join(_COLUMNS) + "\n")
        self._origins = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115 (until the end)

    def append(self, reading: Reading, time_s: float) -> None:
        """Write one reading with its time as far as it is known.

        A reading out of the sound has its exact time, and may come late: whoever reads the file
        sorts the rows. The others keep their order.
        """
        if reading.frame is None:
            time_s = max(time_s, self._last_time_s + _STEP_S)
            self._last_time_s = time_s
        cells = [f"{reading.value:.6g}" if name == reading.quantity else "" for name in QUANTITIES]
        half_s = reading.half_round_trip_s
        self._file.write(f"{time_s:.6f},{','.join(cells)},{half_s:.6f}\n")
        frame = np.nan if reading.frame is None else reading.frame
        self._origins.write(np.array([reading.midpoint_s, frame]).tobytes())
        self.row_count += 1

    def sync(self) -> None:
        """Wait until the disk holds everything."""
        sync_handle(self._file.fileno())

    def close(self) -> None:
        """Close the file as it is."""
        self._file.close()
        self._origins.close()

    def finish(self, place: PlaceTimes) -> None:
        """Close the file, and write it anew with the times of ``place(midpoint_s, frame)``."""
        self._file.close()
        if self.row_count == 0:
            self._path.unlink()
        else:
            replace_file(self._path, self._lines_placed(place))
        self._origins.close()

    def _lines_placed(self, place: PlaceTimes) -> Iterator[bytes]:
        """Give the whole file, a few thousand rows at a time, sorted by time."""
        self._origins.seek(0)
        end_s = -np.inf
        times_s, cells = np.empty(0), np.empty(0, dtype=object)
        with self._path.open(encoding="utf-8") as lines:
            yield next(lines).encode()
            while rows := [line.partition(",")[2] for line in islice(lines, _ROWS_AT_ONCE)]:
                # two float64 for each row, as append wrote them
                origins = np.frombuffer(self._origins.read(16 * len(rows))).reshape(-1, 2)
                placed_s = place(origins[:, 0], origins[:, 1])
                times_s = np.concatenate([times_s, placed_s])
                cells = np.concatenate([cells, np.array(rows, dtype=object)])
                # stable: readings of one moment stay in the order in which they came
                order = np.argsort(times_s, kind="stable")
                times_s, cells = times_s[order], cells[order]
                ready = int(np.searchsorted(times_s, times_s[-1] - _LATEST_S))
                rising_s = _strictly_rising(times_s[:ready], end_s)
                yield from _joined(rising_s, cells[:ready])
                end_s = float(rising_s[-1]) if ready else end_s
                times_s, cells = times_s[ready:], cells[ready:]
        yield from _joined(_strictly_rising(times_s, end_s), cells)


def _joined(times_s: FloatArray, cells: NDArray[np.object_]) -> Iterator[bytes]:
    for time_s, rest in zip(times_s, cells, strict=True):
        yield f"{time_s:.6f},{rest}".encode()


def _strictly_rising(times_s: FloatArray, after_s: float) -> FloatArray:
    # less a step for each row, "rising by a step" is "not falling": a running maximum does that
    steps = np.arange(1, times_s.size + 1) * _STEP_S
    least_s = np.concatenate([[after_s], np.round(times_s, 6) - steps])
    return np.asarray(np.maximum.accumulate(least_s)[1:] + steps)
