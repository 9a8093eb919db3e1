"""Power spectra of many frames of sound, a few frames at a time."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.numbered import numbered

_POINTS_AT_ONCE = 65_536  # so that frames and spectra stay in the processor's cache


def mean_square_window(size: int) -> NDArray[np.float32]:
    """Hann window with which the lines of a power spectrum add up to a mean square [shape=(size,)].

    Periodic, not symmetric: a steady tone then has three lines and no more.
    """
    window = np.hanning(size + 1)[:-1]
    return np.asarray(window * np.sqrt(2.0 / (size * np.dot(window, window))), dtype=np.float32)


def frame_power(
    frames: NDArray[np.float32],
    chosen: IntArray,
    window: NDArray[np.float32],
    *,
    fft_size: int,
    lines: int,
) -> NDArray[np.float32]:
    """Squared size of the first ``lines`` of each chosen frame's spectrum.

    Parameters
    ----------
    frames : ndarray [shape=(n_frames, size)]
        May be a view in which frames overlap.
    chosen : ndarray [shape=(n_chosen,)]
        Which of them, rising.
    window : ndarray [shape=(size,)]
    fft_size : int >= size
        Frames are filled up with zeros to this length.
    lines : int <= fft_size // 2 + 1

    Returns
    -------
    ndarray [shape=(n_chosen, lines)]
    """
    power = np.empty((chosen.size, lines), dtype=np.float32)
    at_once = max(1, _POINTS_AT_ONCE // fft_size)
    # once for all: what lies beyond the window stays zero, which is the filling up
    windowed = np.zeros((at_once, fft_size), dtype=np.float32)
    for first in range(0, chosen.size, at_once):
        out = power[first : first + at_once]
        filled = windowed[: out.shape[0]]
        here = chosen[first : first + at_once]
        # one after the other they need no copy
        view = frames[here[0] : here[-1] + 1] if here[-1] - here[0] < here.size else frames[here]
        np.multiply(view, window, out=filled[:, : window.size])
        # only the lines asked for are kept; the others go with these few frames
        spectrum = rfft(filled, axis=1)[:, :lines]
        np.abs(spectrum, out=out)
    return np.square(power, out=power)


def add_to_rows(sums: FloatArray, rows: IntArray, values: NDArray[np.floating]) -> None:
    """Add the values of each frame [shape=(n_frames, n)] to its row of ``sums``."""
    present, where, _ = numbered(rows)
    is_in = where == np.arange(present.size)[:, np.newaxis]
    sums[present] += is_in.astype(values.dtype) @ values  # the fastest sum
