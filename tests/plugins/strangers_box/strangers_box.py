"""A box that tells a steady rpm, and the log that it writes: one line of JSON a reading."""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import time
from pathlib import Path

import numpy as np
import pandas as pd

from logger.errors import TelemetryError
from logger.importing.request import ColumnReport, ImportedTelemetry, TelemetryOptions
from logger.sources.contract import Reading


class Steady:
    """``--rpm steady:2000``."""

    def __init__(self, rest: str) -> None:
        self.name = f"steady:{rest}"
        self._rpm = float(rest)

    def read(self, timeout_s: float) -> Reading | None:
        """Give the rpm, twenty times a second."""
        time.sleep(min(timeout_s, 0.05))
        now_s = time.perf_counter()
        return Reading(quantity="rpm", value=self._rpm, request_s=now_s, reply_s=now_s)

    def close(self) -> None:
        """Hold nothing, so let nothing go."""


class BoxLog:
    """``--importer boxlog``."""

    name = "boxlog"

    def recognises(self, path: Path) -> bool:
        """Look at the first bytes."""
        with path.open("rb") as file:
            return file.read(5) == b'{"t":'

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        """Read time, rpm and level."""
        rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
        if not rows:
            raise TelemetryError(f"{path} is empty; choose another file")
        columns = {"t": "time_s", "n": "rpm", "la": "level_a_db"}
        frame = pd.DataFrame(rows, dtype=np.float64)[list(columns)].rename(columns=columns)
        frame["time_s"] += options.time_offset_s
        report = tuple(
            ColumnReport(
                column=key, meaning=name, unit="", rows_kept=len(rows), rows_dropped=0, why=""
            )
            for key, name in columns.items()
        )
        return ImportedTelemetry(frame=frame, columns=report)
