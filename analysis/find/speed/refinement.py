"""Engine speed refined from the engine's own orders.

Telemetry is coarse, rounded and late. In the order spectrum of a frame made with a speed that is
wrong by a part e, every order n shows at n (1 + e). The e that lines up the orders, followed
through time by the path of least cost (Viterbi), corrects the speed; where the sound says
nothing the path keeps to the telemetry.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.basics.levels import into_db
from analysis.find.sound.order_tracking import REVOLUTIONS, OrderSpectra, order_spectra
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_path import between_steps

# judgement: a log's rpm is right within 4 % once its delay is known. 20 % more of any but the
# orders moves a rise by at most 0.02 dB and a width by 0.04 %, for order_phase goes over it again.
_REACH = 0.04
_STEP = 0.0025
_ERRORS = np.arange(-_REACH, _REACH + 0.5 * _STEP, _STEP)
_ORDERS = np.arange(0.5, 8.01, 0.5)
_HIGHEST_ORDER = 9.0  # beyond the highest as far as its surroundings reach
_LINE_LIMIT_DB = 40.0
_COST_OF_STEP = 3.0  # dB of evidence for a change of one step between two frames, squared
_COST_OF_ERROR_DB = 0.02  # dB for one step away from the telemetry, squared
_HOP_S = 0.2
_POINTS = 32  # of a revolution: noise above order 23 folds onto order 8 and below; it is weak
_SMOOTHED_FRAMES = 3
_FLATTEST = 1e-3  # dB
_FORGOTTEN_FRAMES = 50  # no choice of speed reaches ten seconds ahead
_STRETCH_FRAMES = 250
_LONGEST_JUMP_S = 0.45  # frames further apart than this start a new path


def refined_speed(copy: WorkingCopy, track: SpeedTrack) -> SpeedTrack:
    """``track`` (already on the sound's clock) with its speed corrected from the sound."""
    times, scores = [], []
    spectra = order_spectra(
        copy, track, hop_s=_HOP_S, points_per_revolution=_POINTS, highest_order=_HIGHEST_ORDER
    )
    for part in spectra:
        times.append(part.time_s)
        scores.append(_evidence(part))
    if not times:
        return track
    time_s = np.concatenate(times)
    error = _best_path(time_s, np.concatenate(scores))
    correction = np.interp(track.time_s, time_s, error)
    return replace(track, rpm=track.rpm * (1.0 + correction))


def _evidence(spectra: OrderSpectra) -> NDArray[np.float32]:
    """How far the orders stand out for each error, added up [shape=(n_frames, n_errors)]."""
    level_db = into_db(spectra.mean_square, 1e-14)
    # one order wide, so that neighbouring orders do not fill it
    around_db = uniform_filter1d(level_db, REVOLUTIONS + 1, axis=1)
    # line by line: whole rows are looked up fastest
    line_db = np.clip(level_db - around_db, 0.0, _LINE_LIMIT_DB).T.copy()
    score = np.zeros((_ERRORS.size, line_db.shape[1]), dtype=np.float32)
    for order in _ORDERS:
        position = REVOLUTIONS * order * (1.0 + _ERRORS[:, np.newaxis])
        index = position.astype(np.int64)
        part = (position - index).astype(np.float32)
        # order by order: one product of matrices rounds otherwise, and the last digits show it
        score += (1.0 - part) * line_db[index[:, 0]] + part * line_db[index[:, 0] + 1]
    return score.T


def _best_path(time_s: FloatArray, score: NDArray[np.float32]) -> FloatArray:
    """Relative error of speed for each frame by dynamic programming over :data:`_ERRORS`."""
    states = np.arange(_ERRORS.size, dtype=np.float32)
    # where the sound tells nothing, the log is believed
    gain = score - np.float32(_COST_OF_ERROR_DB) * (states - states.size // 2) ** 2
    change_cost = np.float32(_COST_OF_STEP) * (states[:, np.newaxis] - states) ** 2
    joined = np.diff(time_s, prepend=time_s[0]) < _LONGEST_JUMP_S
    # stretches side by side, each with so many frames around it that its path has forgotten its end
    ends = (_FORGOTTEN_FRAMES, _FORGOTTEN_FRAMES + _STRETCH_FRAMES)
    size = _STRETCH_FRAMES + 2 * _FORGOTTEN_FRAMES
    value = _stretches(np.pad(gain, (ends, (0, 0))), size).transpose(2, 1, 0).copy()
    goes_on = _stretches(np.pad(joined, ends), size).T
    paths = np.empty((size, value.shape[2]), dtype=np.int64)
    for frame in range(1, size):
        before = value[frame - 1]
        reached = (before[:, np.newaxis] - change_cost[:, :, np.newaxis]).max(axis=0)
        value[frame] += np.where(goes_on[frame], reached, before.max(axis=0))
        # only differences count; the sums themselves would outgrow single precision
        value[frame] -= value[frame].max(axis=0)
    paths[-1] = value[-1].argmax(axis=0)
    for frame in range(size - 1, 0, -1):
        cost = np.where(goes_on[frame], change_cost[:, paths[frame]], np.float32(0.0))
        paths[frame - 1] = (value[frame - 1] - cost).argmax(axis=0)
    inner = paths[_FORGOTTEN_FRAMES : _FORGOTTEN_FRAMES + _STRETCH_FRAMES]
    steps = between_steps(score, inner.T.ravel()[: time_s.size], _FLATTEST)
    return uniform_filter1d(_ERRORS[0] + _STEP * steps, _SMOOTHED_FRAMES)


def _stretches(values: NDArray[np.generic], size: int) -> NDArray[np.generic]:
    """Overlapping stretches of so many frames, the frames last."""
    return np.lib.stride_tricks.sliding_window_view(values, size, axis=0)[::_STRETCH_FRAMES]
