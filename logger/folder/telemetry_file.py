"""``telemetry.csv`` of a session: written exactly, read back exactly, also when it was cut."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from logger.arrays import FloatArray
from logger.errors import SessionError
from logger.folder.quantities import COLUMNS


@dataclass(frozen=True, slots=True, kw_only=True)
class TelemetryRead:
    """Telemetry as read, and what was wrong with it.

    Attributes
    ----------
    frame : pandas.DataFrame
        Known columns, float64, ``time_s`` strictly rising.
    was_cut : bool
        The last line was incomplete and left out.
    rows_dropped : int
        Rows without a time, with the time of another row, or with too few or too many cells.
    """

    frame: pd.DataFrame
    was_cut: bool
    rows_dropped: int


def encode_telemetry(frame: pd.DataFrame) -> bytes:
    """Give the bytes of ``telemetry.csv``.

    Raises
    ------
    SessionError
        As :func:`telemetry_fault` says.
    """
    if fault := telemetry_fault(frame):
        raise SessionError(f"telemetry must not have {fault}; allowed are {', '.join(COLUMNS)}")
    ordered = frame[[name for name in COLUMNS if name in frame.columns]].astype(np.float64)
    return ordered.to_csv(index=False, na_rep="", lineterminator="\n").encode("utf-8")


def telemetry_fault(frame: pd.DataFrame) -> str:
    """Say what a frame has that telemetry of a session must not have; empty when all is well."""
    unknown = [str(name) for name in frame.columns if name not in COLUMNS]
    if unknown:
        return f"the column {unknown[0]}, which no session has"
    if "time_s" not in frame.columns or frame.columns.has_duplicates:
        return "no time_s, or a column twice"
    values = frame.to_numpy(np.float64)
    times_s = frame["time_s"].to_numpy(np.float64)
    if not np.isfinite(times_s).all() or (np.diff(times_s) <= 0.0).any():
        return "times that do not rise"
    return "infinite values" if np.isinf(values).any() else ""


def read_telemetry(path: Path) -> TelemetryRead:
    """Read ``telemetry.csv``; a missing file is no telemetry.

    Raises
    ------
    SessionError
        The file is no table of numbers with a ``time_s`` column.
    """
    empty = pd.DataFrame({"time_s": np.empty(0), "rpm": np.empty(0)})
    try:
        text = path.read_bytes().decode("utf-8").rstrip("\0")
    except FileNotFoundError:
        return TelemetryRead(frame=empty, was_cut=False, rows_dropped=0)
    except (OSError, UnicodeDecodeError) as error:
        raise SessionError(f"cannot read {path}: {error}") from error
    whole, _, rest = text.rpartition("\n")
    if not whole.strip():
        return TelemetryRead(frame=empty, was_cut=bool(text), rows_dropped=0)
    header, *lines = whole.replace("\r", "").split("\n")
    names = header.split(",")
    if "time_s" not in names:
        raise SessionError(f"{path} has no time_s column, so it is no telemetry of a session")
    rows = [cells for line in lines if len(cells := line.split(",")) == len(names)]
    frame = pd.DataFrame(
        {
            name: _numbers(path, name, [row[names.index(name)] for row in rows])
            for name in COLUMNS
            if name in names
        }
    )
    if "rpm" not in names:
        frame.insert(1, "rpm", np.nan)
    ordered = frame[frame["time_s"].notna()].sort_values("time_s", kind="stable")
    kept = ordered[~ordered["time_s"].duplicated()].reset_index(drop=True)
    return TelemetryRead(frame=kept, was_cut=bool(rest), rows_dropped=len(lines) - len(kept.index))


def _numbers(path: Path, name: str, cells: list[str]) -> FloatArray:
    try:
        values = np.array([float(cell) if cell else np.nan for cell in cells], dtype=np.float64)
    except ValueError as error:
        raise SessionError(
            f"{path} is damaged: the column {name} holds something that is not a number "
            f"({error}); repair it by hand"
        ) from error
    values[np.isinf(values)] = np.nan
    return values
