"""``replay:SESSION``: readings of an earlier session, one by one, in the rhythm they came."""
# SPDX-License-Identifier: GPL-2.0-or-later

import time
from collections.abc import Callable, Iterator
from pathlib import Path

from logger.errors import SessionError
from logger.folder.names import TELEMETRY_FILE
from logger.folder.quantities import QUANTITIES
from logger.folder.telemetry_file import read_telemetry
from logger.sources.contract import Reading


class ReplaySource:
    """Give the telemetry of a session again; the first row comes at the first call.

    Parameters
    ----------
    rest : str
        Session folder.
    clock, sleep : callable
        Real time, or a test's own, with which hours pass at once.

    Raises
    ------
    SessionError
        The folder holds no telemetry.
    """

    def __init__(
        self,
        rest: str,
        *,
        clock: Callable[[], float] = time.perf_counter,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.name = f"replay:{rest}"
        self._clock = clock
        self._sleep = sleep
        self._rows = _rows(Path(rest))
        self._next = next(self._rows, None)
        if self._next is None:
            raise SessionError(f"{rest} holds no telemetry; choose a session that has rpm")
        self._offset_s: float | None = None

    def read(self, timeout_s: float) -> Reading | None:
        """Give the next reading when its time has come."""
        if self._next is None:
            self._sleep(timeout_s)
            return None
        quantity, value, row_s = self._next
        if self._offset_s is None:
            self._offset_s = self._clock() - row_s
        due_s = row_s + self._offset_s
        wait_s = due_s - self._clock()
        if wait_s > timeout_s:
            self._sleep(timeout_s)
            return None
        if wait_s > 0.0:
            self._sleep(wait_s)
        self._next = next(self._rows, None)
        # when it was due, not when it was given: the rhythm stays that of the drive
        return Reading(quantity=quantity, value=value, request_s=due_s, reply_s=due_s)

    def close(self) -> None:
        """End the replay."""
        self._next = None
        self._sleep = lambda _: None


def _rows(session: Path) -> Iterator[tuple[str, float, float]]:
    frame = read_telemetry(session / TELEMETRY_FILE).frame
    names = [name for name in QUANTITIES if name in frame.columns]
    columns = {name: frame[name].to_numpy() for name in names}
    for number, time_s in enumerate(frame["time_s"].to_numpy()):
        for name in names:
            value = float(columns[name][number])
            if value == value:  # not NaN: that row has no such reading
                yield name, value, float(time_s)
