"""What an engine's sound is like, measured alike on recorded and on generated drives.

Everything is taken in crank angle: the sound is laid out with the same number of samples in every
turn, along an engine speed that its own half orders have mended.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal
from scipy.ndimage import gaussian_filter1d

FloatArray = NDArray[np.float64]

ORDERS = np.arange(0.5, 12.25, 0.5)
PER_TURN = 64
WINDOW_TURNS, HOP_TURNS = 8, 2
_RATE_HZ = 2000.0  # enough for order 12 at 5,000 rpm
_SCALES = np.arange(0.93, 1.0701, 0.0025)
_COMB_ORDERS = ORDERS[:16]


@dataclass(frozen=True, kw_only=True)
class Likeness:
    """Of one drive; rows are frames of 8 turns, columns ``ORDERS``."""

    rpm: FloatArray  # [shape=(n,)]
    level_db: FloatArray  # of each order [shape=(n, 24)]
    gap_db: FloatArray  # halfway between an order and the next, in the same bandwidth
    likeness: FloatArray  # of one working cycle to the next, -1..1 [shape=(n_cycles,)]


def measured(
    sound: FloatArray, sample_rate_hz: float, time_s: FloatArray, rpm: FloatArray
) -> Likeness:
    """Measure a drive whose rpm rows are about right (within 7 %)."""
    fine_s = np.arange(0.0, sound.size / sample_rate_hz, 0.005)
    rpm = np.interp(fine_s, time_s, rpm)
    narrow, rate_hz = _narrowed(sound, sample_rate_hz)
    for _ in range(2):
        rpm = rpm * _mend(narrow, rate_hz, fine_s, rpm)
    laid, turns_s = _laid_out(narrow, rate_hz, fine_s, rpm)
    spectra = _spectra(laid)
    bins = np.round(ORDERS * WINDOW_TURNS).astype(int)
    level = np.max([spectra[:, bins + shift] for shift in (-1, 0, 1)], axis=0)
    gap = np.mean([spectra[:, bins + shift] for shift in (-2, 2)], axis=0)
    middle = np.arange(spectra.shape[0]) * HOP_TURNS + WINDOW_TURNS // 2
    return Likeness(
        rpm=np.interp(turns_s[middle], fine_s, rpm),
        level_db=10.0 * np.log10(level + 1e-15),
        gap_db=10.0 * np.log10(gap + 1e-15),
        likeness=_cycle_likeness(laid),
    )


def _narrowed(sound: FloatArray, sample_rate_hz: float) -> tuple[FloatArray, float]:
    down = round(sample_rate_hz / _RATE_HZ)
    narrow = np.asarray(signal.resample_poly(sound, 1, down))
    return narrow / np.sqrt(np.mean(narrow**2)), sample_rate_hz / down


def _laid_out(
    sound: FloatArray, rate_hz: float, time_s: FloatArray, rpm: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Sound with ``PER_TURN`` samples a turn, and the time of each whole turn."""
    turns = np.concatenate([[0.0], np.cumsum(0.5 * (rpm[1:] + rpm[:-1]) / 60.0 * np.diff(time_s))])
    whole = int(turns[-1])
    at_s = np.interp(np.arange(whole * PER_TURN) / PER_TURN, turns, time_s)
    # Ten times as many samples, so that straight lines between them do no harm.
    fine = np.asarray(signal.resample_poly(sound, 10, 1))
    return np.interp(at_s * rate_hz * 10.0, np.arange(fine.size), fine), at_s[::PER_TURN]


def _spectra(laid: FloatArray, pad: int = 1) -> FloatArray:
    """Power of a tone's amplitude in each bin, frame by frame."""
    size = WINDOW_TURNS * PER_TURN
    starts = np.arange(0, laid.size - size, HOP_TURNS * PER_TURN)
    window = np.hanning(size + 1)[:-1]
    frames = laid[starts[:, None] + np.arange(size)] * window
    return np.asarray(
        0.5 * np.abs(2.0 * np.fft.rfft(frames, pad * size, axis=1) / window.sum()) ** 2
    )


def _mend(sound: FloatArray, rate_hz: float, time_s: FloatArray, rpm: FloatArray) -> FloatArray:
    """By what share the sound's own half orders say that the engine was faster."""
    laid, turns_s = _laid_out(sound, rate_hz, time_s, rpm)
    pad = 8
    spectra = np.log(_spectra(laid, pad) + 1e-12)
    per_order = WINDOW_TURNS * pad
    score = np.empty((spectra.shape[0], _SCALES.size))
    for index, scale in enumerate(_SCALES):
        on = np.round(_COMB_ORDERS * scale * per_order).astype(int)
        off = np.round((_COMB_ORDERS + 0.25) * scale * per_order).astype(int)
        score[:, index] = spectra[:, on].mean(axis=1) - spectra[:, off].mean(axis=1)
    best = _SCALES[_smooth_path(score)]
    middle = np.arange(best.size) * HOP_TURNS + WINDOW_TURNS // 2
    return np.interp(time_s, turns_s[middle], gaussian_filter1d(best, 2.0, mode="nearest"))


def _smooth_path(score: FloatArray) -> NDArray[np.int_]:
    """Path of the best score whose steps cost."""
    steps = np.arange(score.shape[1])
    cost = 0.05 * np.abs(steps[:, None] - steps[None, :])
    total, back = score[0], []
    for row in score[1:]:
        ways = total[:, None] - cost
        back.append(np.argmax(ways, axis=0))
        total = row + np.max(ways, axis=0)
    path = [int(np.argmax(total))]
    for each in reversed(back):
        path.append(int(each[path[-1]]))
    return np.array(path[::-1])


def _cycle_likeness(laid: FloatArray) -> FloatArray:
    """Correlation of each working cycle (orders up to 8) with the next, best within 10 degrees."""
    sos = signal.butter(4, [0.3, 8.0], "bandpass", fs=PER_TURN, output="sos")
    smooth = np.asarray(signal.sosfiltfilt(sos, laid))
    size = 2 * PER_TURN
    found = []
    for start in range(size, smooth.size - 2 * size - 4, size):
        one = smooth[start : start + size]
        others = [smooth[start + size + lag : start + 2 * size + lag] for lag in (-2, -1, 0, 1, 2)]
        found.append(max(float(np.corrcoef(one, other)[0, 1]) for other in others))
    return np.array(found)


def flutter_db(of: Likeness) -> float:
    """How unsteady strong orders are: standard deviation from one frame to the next but three."""
    apart = WINDOW_TURNS // HOP_TURNS
    step = of.level_db[apart:] - of.level_db[:-apart]
    strong = of.level_db[apart:] > of.level_db[apart:].max(axis=1, keepdims=True) - 10.0
    steady = np.abs(np.log(of.rpm[apart:] / of.rpm[:-apart])) < 0.03
    inside = step[strong & steady[:, None]]
    return float(np.sqrt(np.mean(inside**2) / 2.0)) if inside.size > 20 else float("nan")


def relative_db(of: Likeness) -> FloatArray:
    """Level of each order under the strongest of its frame [shape=(n, 24)]."""
    return np.asarray(of.level_db - of.level_db.max(axis=1, keepdims=True))


def rpm_curves(of: Likeness, step: float = 0.02) -> tuple[FloatArray, FloatArray]:
    """Mean power of each order in bins of engine speed that hold a frame [shape=(n, 24)]."""
    edges = np.arange(np.log(of.rpm.min()), np.log(of.rpm.max()) + step, step)
    at = np.digitize(np.log(of.rpm), edges) - 1
    filled = np.unique(at)
    power = [np.mean(10.0 ** (of.level_db[at == each] / 10.0), axis=0) for each in filled]
    return np.exp(edges[filled] + step / 2.0), 10.0 * np.log10(np.array(power))


def hill_shapes(of: Likeness) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Prominence in dB and width as a share of all hills of strong orders; roughness in dB.

    Roughness is the root mean square of what a smoothing over 6 % of engine speed takes away.
    """
    rpm, curves = rpm_curves(of)
    strong = np.argsort(-np.median(curves, axis=0))[:6]
    heights, widths, rough = [], [], []
    for column in strong:
        level = gaussian_filter1d(curves[:, column], 1.0, mode="nearest")
        rough.append(np.std(curves[:, column] - gaussian_filter1d(curves[:, column], 3.0)))
        peaks, facts = signal.find_peaks(level, prominence=3.0)
        for peak, height in zip(peaks, facts["prominences"], strict=True):
            below = level < level[peak] - 3.0
            down, up = np.flatnonzero(below[:peak]), np.flatnonzero(below[peak:])
            if down.size and up.size:
                heights.append(float(height))
                widths.append(float((rpm[peak + up[0]] - rpm[down[-1]]) / rpm[peak]))
    return np.array(heights), np.array(widths), np.array(rough)
