"""Level over engine speed and frequency, and overall level over engine speed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.drive import FloatArray, IntArray
from analysis.engine_speed import SpeedTrack
from analysis.errors import DriveError
from analysis.findings import LevelMap, OverallCurve
from analysis.levels import a_weighting_db, c_weighting_db
from analysis.rpm_bins import bin_centre_rpm, bin_of
from analysis.working_copy import WorkingCopy

_WINDOW_S = 0.5
_HOP_S = 0.25
_CHUNK_S = 60.0
_MAP_TO_HZ = 400.0
_BINS_PER_ROW = 2  # map rows are 2 % of engine speed high


def level_map(
    copy: WorkingCopy, track: SpeedTrack, level_offset_db: float, progress: Callable[[float], None]
) -> tuple[LevelMap, OverallCurve]:
    """Average the power spectra of all frames by engine speed.

    Levels are those of the band from 20 Hz to where the working copy is flat; a map's cell holds
    the mean square in the bandwidth of one line (3 Hz: a Hann window of half a second).

    Raises
    ------
    DriveError
        Sound and engine speed are nowhere known together for that long.
    """
    power, rows, spacing_hz = _power_by_speed(copy, track, progress)
    if rows.size == 0:
        raise DriveError(
            f"nowhere do sound and engine speed last together for {_WINDOW_S:g} s; drive again"
        )
    frequency_hz = spacing_hz * np.arange(power.shape[1], dtype=np.float64)
    count = np.bincount(rows, minlength=power.shape[0]).astype(np.float64)
    seen = np.flatnonzero(count)
    rpm = bin_centre_rpm(seen * _BINS_PER_ROW)
    mean = power[seen] / count[seen, np.newaxis]
    heard = (frequency_hz >= 20.0) & (frequency_hz <= copy.flat_to_hz)

    def overall_db(weighting_db: FloatArray) -> FloatArray:
        weight = 10.0 ** (0.1 * weighting_db)
        return 10.0 * np.log10(mean[:, heard] @ weight + 1e-20) + level_offset_db

    heard_hz = frequency_hz[heard]
    overall = OverallCurve(
        rpm=rpm,
        level_z_db=overall_db(np.zeros(heard_hz.size)),
        level_c_db=overall_db(c_weighting_db(heard_hz)),
        level_a_db=overall_db(a_weighting_db(heard_hz)),
        seconds=count[seen] * _HOP_S,
    )
    shown = frequency_hz <= _MAP_TO_HZ
    line_bandwidth = 1.5  # a line of a Hann spectrum passes the noise of 1.5 spacings
    picture = LevelMap(
        rpm=rpm,
        frequency_hz=frequency_hz[shown],
        level_db=10.0 * np.log10(mean[:, shown] * line_bandwidth + 1e-20) + level_offset_db,
    )
    return picture, overall


def _power_by_speed(
    copy: WorkingCopy, track: SpeedTrack, progress: Callable[[float], None]
) -> tuple[FloatArray, FloatArray, float]:
    """Sum of the power spectra by map row, the row of each frame, and the lines' spacing."""
    rate = copy.sample_rate_hz
    size, hop = int(_WINDOW_S * rate), int(_HOP_S * rate)
    window = np.hanning(size + 1)[:-1].astype(np.float32)
    scale = 2.0 / (size * float(np.dot(window, window)))
    top_row = int(_row_of(np.array([np.nanmax(track.rpm)]))[0])
    power = np.zeros((top_row + 1, size // 2 + 1))
    rows_seen = []
    chunk = int(_CHUNK_S * rate) // hop * hop
    for first in range(0, max(1, copy.frame_count - size), chunk):
        samples = copy.read(first, min(chunk + size - hop, copy.frame_count - first))
        if samples.size < size:
            break
        frames = np.lib.stride_tricks.sliding_window_view(samples, size)[::hop]
        middle_s = (first + 0.5 * size + hop * np.arange(frames.shape[0], dtype=np.float64)) / rate
        rpm = track.at(middle_s)
        half_s = 0.5 * size / rate
        known = np.isfinite(rpm) & ~copy.gaps.touch(middle_s - half_s, middle_s + half_s)
        spectrum = scale * np.abs(np.fft.rfft(frames[known] * window, axis=1)) ** 2
        rows = _row_of(rpm[known])
        order = np.argsort(rows, kind="stable")
        present, starts = np.unique(rows[order], return_index=True)
        if present.size:
            power[present] += np.add.reduceat(spectrum[order], starts, axis=0)
        rows_seen.append(rows)
        progress(min(1.0, (first + chunk) / copy.frame_count))
    return power, np.concatenate(rows_seen) if rows_seen else np.empty(0, np.int64), rate / size


def _row_of(rpm: FloatArray) -> IntArray:
    return np.maximum(bin_of(rpm), 0) // _BINS_PER_ROW
