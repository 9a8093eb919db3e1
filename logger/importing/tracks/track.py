"""From fixes of a receiver, one after the other, to telemetry."""
# SPDX-License-Identifier: GPL-2.0-or-later

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from logger.arrays import FloatArray
from logger.errors import TelemetryError
from logger.folder.quantities import LIMITS
from logger.importing.request import ColumnReport, ImportedTelemetry, TelemetryOptions
from logger.importing.tables.row_order import order_rows

_FEWEST_FIXES = 2
_SPEED = "road_speed_m_s"


def telemetry_of_track(
    path: Path,
    stamps_s: FloatArray,
    speed_m_s: FloatArray,
    options: TelemetryOptions,
    *,
    source: str,
    skipped: int = 0,
    notes: tuple[str, ...] = (),
) -> ImportedTelemetry:
    """Give telemetry with road speed alone.

    Parameters
    ----------
    stamps_s : ndarray [shape=(n,)]
        Seconds since 1970 in UTC, NaN where a fix has no time.
    speed_m_s : ndarray [shape=(n,)]
        NaN where a fix has no speed.
    source : str
        What the file calls the speed.
    skipped : int
        What else of the file could not be read.

    Raises
    ------
    TelemetryError
        There are no two fixes with a time and a speed, or time runs backward.
    """
    limits = LIMITS[_SPEED]
    is_good = np.isfinite(stamps_s) & (speed_m_s >= limits.low) & (speed_m_s <= limits.high)
    times_s, speeds = stamps_s[is_good], speed_m_s[is_good]
    if times_s.size < _FEWEST_FIXES:
        raise TelemetryError(
            f"{path} has {times_s.size} fixes with a time and a speed; choose a track that the "
            "receiver recorded while driving"
        )
    order = order_rows(times_s, speeds[:, np.newaxis])
    times_s = order.times_s
    frame = pd.DataFrame(
        {"time_s": times_s - times_s[0] + options.time_offset_s, _SPEED: speeds[order.rows]}
    )
    report = ColumnReport(
        column=source,
        meaning=_SPEED,
        unit="m/s",
        rows_kept=len(frame.index),
        rows_dropped=stamps_s.size - len(frame.index) + skipped,
        why=", ".join(f"{reason}: {count}" for reason, count in order.dropped.items()),
    )
    clock = (
        "The first fix is taken as the start of the sound; the true offset is measured later, if "
        "the sound shows it."
    )
    return ImportedTelemetry(
        frame=frame,
        columns=(report,),
        start=datetime.fromtimestamp(float(times_s[0]), UTC),
        notes=(*notes, *order.notes, clock),
    )
