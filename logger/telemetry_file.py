"""``telemetry.csv`` of a session: written exactly, read back exactly, also when it was cut."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from logger.errors import SessionError

COLUMNS = (
    "time_s",
    "rpm",
    "road_speed_m_s",
    "load_percent",
    "throttle_percent",
    "manifold_pressure_kpa",
    "coolant_temperature_degc",
    "catalyst_temperature_degc",
    "level_a_db",
    "level_c_db",
    "level_z_db",
)
LEVEL_COLUMNS = ("level_a_db", "level_c_db", "level_z_db")


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
        Rows without a time, or whose time does not rise.
    """

    frame: pd.DataFrame
    was_cut: bool
    rows_dropped: int


def encode_telemetry(frame: pd.DataFrame) -> bytes:
    """Give the bytes of ``telemetry.csv``.

    Raises
    ------
    SessionError
        A column that no session has, or a time that does not rise.
    """
    unknown = [str(name) for name in frame.columns if name not in COLUMNS]
    if unknown or "time_s" not in frame.columns:
        raise SessionError(
            f"telemetry has the columns {', '.join(map(str, frame.columns))}; "
            f"allowed are {', '.join(COLUMNS)}, and time_s is needed"
        )
    times_s = frame["time_s"].to_numpy(np.float64)
    if not np.isfinite(times_s).all() or (np.diff(times_s) <= 0.0).any():
        raise SessionError("telemetry times must be finite and strictly rising")
    ordered = frame[[name for name in COLUMNS if name in frame.columns]].astype(np.float64)
    if np.isinf(ordered.to_numpy()).any():
        raise SessionError("telemetry must not hold infinite values; leave them empty")
    text = ordered.to_csv(index=False, na_rep="", lineterminator="\n")
    return text.encode("utf-8")


def empty_telemetry() -> pd.DataFrame:
    """Give a frame without rows."""
    return pd.DataFrame({"time_s": np.empty(0), "rpm": np.empty(0)})


def read_telemetry(path: Path) -> TelemetryRead:
    """Read ``telemetry.csv``; a missing file is no telemetry.

    Raises
    ------
    SessionError
        The file is no table of numbers with a ``time_s`` column.
    """
    try:
        text = path.read_bytes().decode("utf-8").rstrip("\0")
    except FileNotFoundError:
        return TelemetryRead(frame=empty_telemetry(), was_cut=False, rows_dropped=0)
    except (OSError, UnicodeDecodeError) as error:
        raise SessionError(f"cannot read {path}: {error}") from error
    whole, _, rest = text.rpartition("\n")
    if not whole.strip():
        return TelemetryRead(frame=empty_telemetry(), was_cut=bool(text), rows_dropped=0)
    try:
        table = pd.read_csv(io.StringIO(whole + "\n"), index_col=False)  # exact since pandas 3.1
        known = [name for name in COLUMNS if name in table.columns]
        frame = table[known].astype(np.float64)
    except (ValueError, OverflowError) as error:
        raise SessionError(f"{path} is damaged: {_first_line(error)}; mend it by hand") from error
    if "time_s" not in known:
        raise SessionError(f"{path} has no time_s column, so it is no telemetry of a session")
    frame = frame.replace([np.inf, -np.inf], np.nan)
    if "rpm" not in known:
        frame.insert(1, "rpm", np.nan)
    keep = _rising(frame["time_s"].to_numpy())
    kept = frame[keep].reset_index(drop=True)
    return TelemetryRead(
        frame=kept, was_cut=bool(rest), rows_dropped=len(frame.index) - len(kept.index)
    )


def _rising(times_s: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[bool]:
    keep = []
    last_s = -np.inf
    for time_s in times_s.tolist():
        is_later = time_s > last_s
        keep.append(is_later)
        if is_later:
            last_s = time_s
    return keep


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or ["no table"])[0]
