"""How likely each engine speed is at each moment, from the lines that stand out of the sound.

A short-time spectrum of the sound holds lines at every engine order. For each frame and each
possible engine speed, what stands out where the orders would lie is added up.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.basics.levels import into_db
from analysis.find.sound.frame_power import frame_power
from analysis.find.sound.working_copy import WorkingCopy

# From one possible engine speed to the next; judgement: 20 % more moves a rise 0.02 dB
SPEED_RATIO = 1.005
CHUNK_S = 30.0  # judgement: memory against calls; 20 % more moves a rise by 0.01 dB

# judgement: a longer window smears a sweep, a shorter one merges half orders at idle. 20 % more of
# the hop moves a peak by 0.006 % and a rise by 0.07 dB, of the window 0.012 % and 0.14 dB. A louder
# line than the limit counts no more, so that one mains hum cannot outvote all orders.
_HOP_S = 0.1
_WINDOW_S = 0.4
CHUNK_STEP_S = CHUNK_S - _WINDOW_S + _HOP_S  # chunks so far apart go on without a break
_LINE_LIMIT_DB = 30.0
_HIGHEST_HZ = 900.0
_AROUND_HZ = 16.0


def line_spacing_hz(copy: WorkingCopy) -> float:
    """From one line to the next, the first at 0 Hz."""
    return copy.sample_rate_hz / _fft_size(copy)


def line_count(copy: WorkingCopy) -> int:
    """How many lines are looked at."""
    return min(int(_HIGHEST_HZ / line_spacing_hz(copy)), _fft_size(copy) // 2 + 1)


def _fft_size(copy: WorkingCopy) -> int:
    # padded to twice the length: a line between two points loses less
    return 2 * int(_WINDOW_S * copy.sample_rate_hz)


def lines_standing_out(copy: WorkingCopy, start_s: float) -> tuple[FloatArray, NDArray[np.float32]]:
    """How far each line stands out of its surroundings, for the frames of one chunk.

    Returns
    -------
    time_s : ndarray [shape=(n_frames,)]
        Middle of each frame; frames that touch a gap are left out.
    line_db : ndarray [shape=(n_frames, n_lines)]
        0 to 30 dB.
    """
    rate, lines = copy.sample_rate_hz, line_count(copy)
    size = int(_WINDOW_S * rate)
    hop = round(_HOP_S * rate)
    first = int(start_s * rate)
    count = min(int(CHUNK_S * rate), copy.frame_count - first)
    frame_s = (first + 0.5 * size + np.arange(0, count - size + 1, hop, dtype=np.float64)) / rate
    heard = ~copy.gaps.touch(frame_s - 0.5 * size / rate, frame_s + 0.5 * size / rate)
    if not heard.any():
        return np.empty(0), np.empty((0, lines), dtype=np.float32)
    samples = copy.read(first, count)
    frames = np.lib.stride_tricks.sliding_window_view(samples, size)[::hop]
    window, fft_size = np.hanning(size).astype(np.float32), _fft_size(copy)
    power = frame_power(frames, np.flatnonzero(heard), window, fft_size=fft_size, lines=lines)
    level_db = into_db(power, 1e-12)
    # its surroundings taken away, so that a line counts and a loud region does not
    level_db -= uniform_filter1d(level_db, int(_AROUND_HZ / line_spacing_hz(copy)) | 1, axis=1)
    return frame_s[heard], np.clip(level_db, 0.0, _LINE_LIMIT_DB, out=level_db)


def between_lines(line_db: NDArray[np.float32], position: FloatArray) -> NDArray[np.float32]:
    """Give what each frame holds at places between its lines [shape=(n_frames, n_places)].

    ``position`` counts in lines from 0 and lies below the last, same shape.
    """
    index = position.astype(np.int64)
    part = (position - index).astype(np.float32)
    frame = np.arange(position.shape[0])[:, np.newaxis]
    return (1.0 - part) * line_db[frame, index] + part * line_db[frame, index + 1]


def line_weights(
    lines: int, spacing_hz: float, speeds_rpm: FloatArray, orders: FloatArray, weights: FloatArray
) -> NDArray[np.float32]:
    """How much each line counts for each speed [shape=(lines, n_speeds)].

    An order between two lines counts for both, for each as near as it is; one above all for none.
    """
    weight_of_line = np.zeros((lines, speeds_rpm.size))
    column = np.arange(speeds_rpm.size)
    for order, weight in zip(orders, weights, strict=True):
        position = order * speeds_rpm / 60.0 / spacing_hz
        inside = position < lines - 1
        index = position[inside].astype(np.int64)
        part = position[inside] - index
        weight_of_line[index, column[inside]] += weight * (1.0 - part)
        weight_of_line[index + 1, column[inside]] += weight * part
    return weight_of_line.astype(np.float32)
