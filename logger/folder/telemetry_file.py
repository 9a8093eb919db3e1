"""``telemetry.csv`` of a session: written exactly, read back exactly, also when it was cut."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from logger.arrays import FloatArray
from logger.errors import SessionError
from logger.folder.quantities import COLUMNS, LATEST_S, LIMITS
from logger.folder.text_decoding import LARGEST_FILE_BYTES, read_whole

if TYPE_CHECKING:  # loaded where a table is read, so that a missing session is told at once
    import pandas as pd

# judgement: a day of driving at 40 rows a second; what has more would fill the memory, and is
# refused
_MOST_ROWS = 4_000_000
_TOO_MUCH = (
    f"holds more than a day of driving ({LARGEST_FILE_BYTES / 1e6:.0f} MB or {_MOST_ROWS:,} rows); "
    "cut it to the drive"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TelemetryRead:
    """Telemetry as read, and what was wrong with it.

    Attributes
    ----------
    frame : pandas.DataFrame
        Known columns, float64, ``time_s`` strictly rising; what no car can have is missing.
    was_cut : bool
        The last line was incomplete and left out.
    rows_dropped : int
        Rows without a time that can be, with the time of another row, or with too few or too many
        cells.
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
        The file is no table of numbers with a ``time_s`` column, or too large.
    """
    import pandas as pd

    empty = pd.DataFrame({"time_s": np.empty(0), "rpm": np.empty(0)})
    data = _read_bytes(path)
    # what stands behind the last line break was cut while it was written
    whole, _, rest = data.rpartition(b"\n")
    if not whole.strip():
        return TelemetryRead(frame=empty, was_cut=bool(data), rows_dropped=0)
    lines = _lines(path, whole)
    names = next(lines).split(",")
    if "time_s" not in names:
        raise SessionError(f"{path} has no time_s column, so it is no telemetry of a session")
    columns, line_count = _columns(path, names, lines)
    frame = pd.DataFrame(columns)
    if "rpm" not in names:
        frame.insert(1, "rpm", np.nan)
    # readings out of the sound come late, and are written as they come
    ordered = frame[frame["time_s"].notna()].sort_values("time_s", kind="stable")
    kept = ordered[~ordered["time_s"].duplicated()].reset_index(drop=True)
    return TelemetryRead(frame=kept, was_cut=bool(rest), rows_dropped=line_count - len(kept.index))


def _read_bytes(path: Path) -> bytes:
    if not path.exists():
        return b""
    data = read_whole(path, LARGEST_FILE_BYTES, SessionError, _TOO_MUCH)
    # after a power cut a disk may hold zeros where the end was to come
    return data.rstrip(b"\0")


def _lines(path: Path, data: bytes) -> Iterator[str]:
    """Give the lines one after the other: all at once would take many times their length."""
    try:
        for line in io.BytesIO(data):
            yield line.decode("utf-8").replace("\r", "").removesuffix("\n")
    except UnicodeDecodeError as error:
        raise SessionError(f"cannot read {path}: {error}") from error


def _columns(
    path: Path, names: list[str], lines: Iterator[str]
) -> tuple[dict[str, FloatArray], int]:
    """Give the known columns of the lines that have a cell for each, and the number of lines."""
    known = {name: names.index(name) for name in COLUMNS if name in names}
    # a list of numbers takes four times the room
    values = {name: array("d") for name in known}
    line_count = 0
    for line in lines:
        line_count += 1
        if line_count > _MOST_ROWS:
            raise SessionError(f"{path} {_TOO_MUCH}")
        cells = line.split(",")
        if len(cells) == len(names):
            for name, at in known.items():
                values[name].append(_number(path, name, cells[at]))
    return {name: _possible(name, np.array(values[name])) for name in known}, line_count


def _number(path: Path, name: str, cell: str) -> float:
    try:
        return float(cell) if cell else np.nan
    except ValueError as error:
        raise SessionError(
            f"{path} is damaged: the column {name} holds something that is not a number "
            f"({str(error)[:80]}); repair it by hand"
        ) from error


def _possible(name: str, values: FloatArray) -> FloatArray:
    """Leave out what cannot be, so that no sum of it overflows; what is only unlikely stays."""
    limits = LIMITS.get(name)
    low, high = (-LATEST_S, LATEST_S) if limits is None else (limits.low, limits.high)
    values[~((values >= low) & (values <= high))] = np.nan
    return values
