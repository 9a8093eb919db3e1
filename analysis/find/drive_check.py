"""What every drive must be before anything is computed from it, wherever it came from."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray
from analysis.drive import SAMPLE_RATES_HZ, Drive, Sound
from analysis.errors import DriveError

# judgement: beyond these a file is damaged; refused.
_LONGEST_TELEMETRY_S = 48 * 3600.0
_LEVEL_DB = (-200.0, 250.0)
# judgement: seven steps of 16 bits; a plug that is not in hums louder than that
_DEAD_PEAK = 2e-4
_COLUMNS = ("rpm", "road_speed_m_s", "level_a_db", "level_c_db", "level_z_db")


def check_drive(drive: Drive) -> None:
    """Refuse what no stage could make sense of.

    Raises
    ------
    DriveError
        The sample rate is impossible; telemetry has no time column, times that do not rise, or
        values that are not numbers.
    """
    low, high = SAMPLE_RATES_HZ
    if drive.sound is not None and not low <= drive.sound.sample_rate_hz <= high:
        raise DriveError(
            f"sound at {drive.sound.sample_rate_hz:g} samples per second cannot be analysed; it "
            f"must have {low:g} to {high:g}: check the sample rate, or record again"
        )
    _check_times(drive.telemetry)
    for column in _COLUMNS:
        if column in drive.telemetry.columns:
            _check_values(column, _numbers(drive.telemetry, column))


def check_channel(sound: Sound, peak: float) -> None:
    """Refuse a channel without sound when the recording has others.

    Raises
    ------
    DriveError
        The highest sample, ``peak``, is none that a microphone would give.
    """
    if peak < _DEAD_PEAK and sound.other_channels:
        raise DriveError(
            f"channel {sound.channel} of this recording holds no sound (nothing above "
            f"{20.0 * np.log10(max(peak, 1e-6)):.0f} dB re full scale): choose the one with the "
            f"microphone, --channel {sound.other_channels[0]}"
        )


def _check_times(telemetry: pd.DataFrame) -> None:
    if "time_s" not in telemetry.columns:
        raise DriveError("telemetry has no time_s column; import it again with its time column")
    time_s = _numbers(telemetry, "time_s")
    if not np.isfinite(time_s).all():
        row = int(np.flatnonzero(~np.isfinite(time_s))[0])
        raise DriveError(f"telemetry row {row + 1} has no time; leave such rows out")
    falls = np.flatnonzero(np.diff(time_s) <= 0.0)
    if falls.size:
        row = int(falls[0]) + 1
        raise DriveError(
            f"telemetry times must rise from row to row, but row {row + 1} has {time_s[row]:g} s "
            f"after {time_s[row - 1]:g} s; sort the rows and leave out repeated times"
        )
    if time_s.size and time_s[-1] - time_s[0] > _LONGEST_TELEMETRY_S:
        raise DriveError(
            f"telemetry spans {(time_s[-1] - time_s[0]) / 3600.0:.0f} hours; at most "
            f"{_LONGEST_TELEMETRY_S / 3600.0:.0f} are taken: check the unit of the time column, "
            "or keep one drive"
        )


def _check_values(column: str, values: FloatArray) -> None:
    if np.isinf(values).any():
        row = int(np.flatnonzero(np.isinf(values))[0])
        raise DriveError(
            f"telemetry row {row + 1} has an infinite {column}; leave a missing value empty"
        )
    low, high = _LEVEL_DB
    if column.startswith("level_") and ((values < low) | (values > high)).any():
        row = int(np.flatnonzero((values < low) | (values > high))[0])
        raise DriveError(
            f"telemetry row {row + 1} has a level of {values[row]:g} dB; levels lie between "
            f"{low:g} and {high:g} dB: check the unit of {column}"
        )


def _numbers(telemetry: pd.DataFrame, column: str) -> FloatArray:
    values = telemetry[column]
    if not pd.api.types.is_numeric_dtype(values):
        raise DriveError(
            f"telemetry column {column} holds {values.dtype} values; numbers are needed"
        )
    return values.to_numpy(dtype=np.float64, na_value=np.nan)
