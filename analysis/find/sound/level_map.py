"""Level over engine speed and frequency, and overall level over engine speed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.progress import Progress
from analysis.errors import DriveError
from analysis.find.sound.frame_power import frame_power, mean_square_window
from analysis.find.sound.speed_rows import SpeedRows
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.weighting import a_weighting_db, c_weighting_db
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import LevelMap, OverallCurve, Weighting

# judgement: lines 2 Hz apart, as the standard in tonal_audibility allows, each looked at twice; the
# picture and overall levels are from these, no order and no drone.
_WINDOW_S = 0.5
HOP_S = 0.25
_CHUNK_S = 60.0
_MAP_TO_HZ = 400.0
_LOWEST_HZ = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameLevels:
    """Overall mean square of each frame, in units of full scale squared.

    ``time_s`` [shape=(n_frames,)], ``mean_square`` [shape=(n_frames, 3)], a column for each of
    :class:`analysis.findings.Weighting`.
    """

    time_s: FloatArray
    mean_square: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelsBySpeed:
    """Level over engine speed and frequency, overall over engine speed, and of each frame."""

    picture: LevelMap
    overall: OverallCurve
    frames: FrameLevels


def levels_by_speed(
    copy: WorkingCopy, track: SpeedTrack, level_offset_db: float, progress: Progress
) -> LevelsBySpeed:
    """Average the power spectra of all frames by engine speed; and the level of each frame.

    Levels are those of the band from 20 Hz to where the working copy is flat; a map's cell holds
    the mean square in the bandwidth of one line (3 Hz: a Hann window of half a second).

    Raises
    ------
    DriveError
        Sound and engine speed are nowhere known together for that long.
    """
    rows, frames = _power_by_speed(copy, track, progress)
    if rows.count.size == 0:
        raise DriveError(
            f"nowhere do sound and engine speed last together for {_WINDOW_S:g} s; drive again"
        )
    overall_db = rows.level_db(_weights(copy), level_offset_db)
    overall = OverallCurve(
        rpm=rows.rpm,
        level_z_db=overall_db[:, 0],
        level_c_db=overall_db[:, 1],
        level_a_db=overall_db[:, 2],
        seconds=rows.count * HOP_S,
    )
    frequency_hz = _frequency_hz(copy)
    shown = frequency_hz <= _MAP_TO_HZ
    picture = LevelMap(
        rpm=rows.rpm,
        frequency_hz=frequency_hz[shown],
        level_db=rows.line_db(level_offset_db)[:, shown],
    )
    return LevelsBySpeed(picture=picture, overall=overall, frames=frames)


def _frequency_hz(copy: WorkingCopy) -> FloatArray:
    size = int(_WINDOW_S * copy.sample_rate_hz)
    return copy.sample_rate_hz / size * np.arange(_line_count(copy), dtype=np.float64)


def _line_count(copy: WorkingCopy) -> int:
    """Lines up to the last that is shown or counts in a level."""
    highest_hz = min(max(copy.flat_to_hz, _MAP_TO_HZ), 0.5 * copy.sample_rate_hz)
    return int(_WINDOW_S * highest_hz) + 1


def _weights(copy: WorkingCopy) -> FloatArray:
    """How much of each line's power each weighting counts [shape=(n_lines, 3)]."""
    frequency_hz = _frequency_hz(copy)
    heard = (frequency_hz >= _LOWEST_HZ) & (frequency_hz <= copy.flat_to_hz)
    gain_db = {
        Weighting.Z: np.zeros(frequency_hz.size),
        Weighting.C: c_weighting_db(frequency_hz),
        Weighting.A: a_weighting_db(frequency_hz),
    }
    passed = np.stack([10.0 ** (0.1 * gain_db[each]) for each in Weighting], axis=1)
    return np.asarray(np.where(heard[:, np.newaxis], passed, 0.0))


def _power_by_speed(
    copy: WorkingCopy, track: SpeedTrack, progress: Progress
) -> tuple[SpeedRows, FrameLevels]:
    """Add up the power spectra by engine speed, and take each frame's level."""
    rate = copy.sample_rate_hz
    size, hop = int(_WINDOW_S * rate), int(HOP_S * rate)
    window = mean_square_window(size)
    rows = SpeedRows(float(np.nanmax(track.rpm)), _line_count(copy))
    times, levels = [np.empty(0)], [np.empty((0, len(Weighting)))]
    weights = _weights(copy).astype(np.float32)
    # a whole number of hops, so that frames go on evenly from chunk to chunk
    chunk = int(_CHUNK_S * rate) // hop * hop
    for first in range(0, max(1, copy.frame_count - size), chunk):
        # chunks overlap by a frame less a hop, or frames across their seam would be missing
        samples = copy.read(first, min(chunk + size - hop, copy.frame_count - first))
        if samples.size < size:
            break
        frames = np.lib.stride_tricks.sliding_window_view(samples, size)[::hop]
        middle_s = (first + 0.5 * size + hop * np.arange(frames.shape[0], dtype=np.float64)) / rate
        rpm = track.at(middle_s)
        # a frame that touches lost sound would be too soft
        half_s = 0.5 * size / rate
        known = np.isfinite(rpm) & ~copy.gaps.touch(middle_s - half_s, middle_s + half_s)
        spectrum = frame_power(
            frames, np.flatnonzero(known), window, fft_size=size, lines=_line_count(copy)
        )
        rows.add(rpm[known], spectrum)
        times.append(middle_s[known])
        levels.append((spectrum @ weights).astype(np.float64))
        progress(min(1.0, (first + chunk) / copy.frame_count))
    return rows, FrameLevels(time_s=np.concatenate(times), mean_square=np.concatenate(levels))
