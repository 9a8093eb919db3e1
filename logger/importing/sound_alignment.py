"""Lay the sounds of two recorders on one clock, by the sound itself.

First the loudness of both over time tells roughly how they lie, or, where road and wind drown it
in one of them, where a long stretch of one is found in the other. Then the fine structure of many
short stretches tells offset and pace: where a stretch of one is found in the other is the peak of
their cross-correlation, made whiter as in the phase transform (C. Knapp and G. Carter, IEEE Trans.
ASSP 24 (1976), from memory), and a line through those places is offset and drift (P. Sen, J. Am.
Stat. Assoc. 63 (1968), from memory), which stretches that went wrong do not move.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import correlate, correlation_lags

from logger.arrays import FloatArray

_HOP_S = 0.02  # judgement: half of what the fine search can mend
_SLOW_S = 4.0  # judgement: what is slower than this a microphone's place and gain explain too
_LEAST_OVERLAP_S = 10.0  # judgement: with less, chance finds a place as well
_CANDIDATES = 6  # judgement: a steady drive lies alike in a few places
_STRETCH_S = 4.0  # judgement: longer than any period, and drift within it below a millisecond
_MOST_STRETCHES = 40  # judgement: their line is within a tenth of a millisecond
# judgement: long enough to be unlike all else, short enough that clocks stay within a millisecond;
# where in the first they are taken, if either began late; and memory against time
_LONG_S, _LOOKED_FOR, _PIECE_S = 15.0, (0.2, 0.5, 0.8), 300.0
_FEWEST_STRETCHES = 4  # judgement: two lie on a line by chance, three now and then
_SEARCH_S = 0.1  # judgement: beyond the hop, and 100 parts per million over ten minutes
_BAND_HZ = (40.0, 1200.0)  # judgement: engine orders, and what both cabin and tail hear
_WHITE = 0.6  # judgement: 0 is plain correlation, where a steady order rules; at 1 noise does
_ON_LINE_S = 0.004  # judgement: half a period of the strongest orders is no less
# judgement: of stretches on the line; unlike drives have an eighth there at most, and recordings of
# one drive in noise as loud as the engine 0.4 and more
_LEAST_SHARE = 0.4
_MOST_DRIFT = 1e-3  # judgement: clocks of recorders are within a tenth of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """How the second sound lies on the first.

    Attributes
    ----------
    offset_s : float
        Time in the second sound of the first sound's start.
    pace : float
        Seconds of the second clock in one of the first; 1 when they run alike.
    share : float
        Of the stretches on the line.
    overlap_s : float
        From the first to the last stretch.
    """

    offset_s: float
    pace: float
    share: float
    overlap_s: float


def align(first: FloatArray, second: FloatArray, rate_hz: float) -> Alignment | None:
    """Find how two sounds of one drive lie; None when they do not tell.

    Parameters
    ----------
    first, second : ndarray [shape=(n,)]
        At the same rate of 3 kHz or more.
    """
    if min(first.size, second.size) < _LEAST_OVERLAP_S * rate_hz:
        return None
    for lags in (_rough_lags(first, second, rate_hz), _found_lags(first, second, rate_hz)):
        found = [
            fine for lag_s in lags if (fine := _fine(first, second, rate_hz, lag_s)) is not None
        ]
        # a drive that repeats itself lies alike in two places: that with more in common is right
        good = [each for each in found if each.share >= _LEAST_SHARE]
        if good:
            return max(good, key=lambda each: each.share * each.overlap_s)
    return None


def _rough_lags(first: FloatArray, second: FloatArray, rate_hz: float) -> Iterator[float]:
    """Where the second's loudness goes up and down with the first's, likeliest first."""
    a, b = _loudness(first, rate_hz), _loudness(second, rate_hz)
    # by transforms: every lag of an hour against an hour would be too many sums
    products = correlate(b, a, method="fft")
    # of what overlaps at each lag alone, or a short overlap would never look alike
    powers_a = correlate(np.ones(b.size), a**2, method="fft")
    powers_b = correlate(b**2, np.ones(a.size), method="fft")
    lags = correlation_lags(b.size, a.size)
    overlap = np.minimum(b.size - lags, a.size) - np.maximum(-lags, 0)
    is_long = overlap >= _LEAST_OVERLAP_S / _HOP_S
    least = 1e-9 * max(1.0, float(np.abs(products).max()))
    # of two places alike the one with more in common
    share = np.clip(overlap / min(a.size, b.size), 0.0, 1.0)
    likeness = np.sqrt(share) * products / np.sqrt(np.maximum(powers_a * powers_b, least))
    likeness[~is_long] = -np.inf
    for _ in range(_CANDIDATES):
        at = int(np.nanargmax(likeness))
        if not np.isfinite(likeness[at]) or likeness[at] <= 0.0:
            return
        yield float(lags[at]) * _HOP_S
        # its own flanks are no other place
        likeness[np.abs(lags - lags[at]) * _HOP_S <= 2.0 * _SEARCH_S] = -np.inf


def _found_lags(first: FloatArray, second: FloatArray, rate_hz: float) -> Iterator[float]:
    """Where long stretches of the first are found in the second, a piece of it at a time."""
    length = min(int(_LONG_S * rate_hz), first.size // 3, second.size // 3)
    piece = int(_PIECE_S * rate_hz)
    for share in _LOOKED_FOR:
        at = int(share * (first.size - length))
        if not first[at : at + length].any():
            continue
        for start in range(0, second.size - length, piece):
            within = second[start : start + piece + length]
            if within.size > length and within.any():
                found = _shift(first[at : at + length], within, rate_hz)
                yield (start + found - at) / rate_hz


def _loudness(sound: FloatArray, rate_hz: float) -> FloatArray:
    """Level of each hop against the seconds about it."""
    hop = int(_HOP_S * rate_hz)
    frames = sound[: sound.size // hop * hop].reshape(-1, hop)
    level = np.log10(np.square(frames).mean(axis=1) + 1e-12)
    width = int(_SLOW_S / _HOP_S)
    slow = np.convolve(level, np.ones(width), mode="same")
    slow /= np.convolve(np.ones(level.size), np.ones(width), mode="same")
    deviation: FloatArray = level - slow
    return deviation


def _fine(first: FloatArray, second: FloatArray, rate_hz: float, lag_s: float) -> Alignment | None:
    """Lay a line through the places where stretches of the first are found in the second."""
    from scipy.stats import theilslopes  # takes as long to load as a small import takes in all

    length, margin = int(_STRETCH_S * rate_hz), int(_SEARCH_S * rate_hz)
    lag = round(lag_s * rate_hz)
    start = max(0, margin - lag)
    end = min(first.size, second.size - margin - lag) - length
    if end <= start:
        return None
    count = min(_MOST_STRETCHES, 2 * (end - start) // length + 1)
    if count < _FEWEST_STRETCHES:
        return None
    starts = np.linspace(start, end, count).astype(np.intp)
    shifts = np.array(
        [
            _shift(
                first[at : at + length],
                second[at + lag - margin :][: length + 2 * margin],
                rate_hz,
            )
            for at in starts
        ]
    )
    times_s = (starts + 0.5 * length) / rate_hz
    lags_s = lag / rate_hz + (shifts - margin) / rate_hz
    slope, level, *_ = theilslopes(lags_s, times_s)
    off_s = np.abs(lags_s - (level + slope * times_s))
    is_on = off_s <= _ON_LINE_S
    if is_on.sum() < _FEWEST_STRETCHES or abs(slope) > _MOST_DRIFT:
        return None
    # least squares once the wrong ones are out: a median of slopes scatters more
    slope, level = np.polyfit(times_s[is_on], lags_s[is_on], 1)
    return Alignment(
        offset_s=float(level),
        pace=1.0 + float(slope),
        share=float(is_on.mean()),
        overlap_s=(end - start + length) / rate_hz,
    )


def _shift(stretch: FloatArray, within: FloatArray, rate_hz: float) -> float:
    """Find by how many samples a stretch lies behind the start of what it is looked for in."""
    size = next_fast_len(within.size + stretch.size, real=True)
    window = np.hanning(stretch.size)
    cross = np.conj(rfft(stretch * window, size)) * rfft(within, size)
    cross /= np.abs(cross) ** _WHITE + 1e-12 * float(np.abs(cross).max() + 1e-300)
    hz = np.fft.rfftfreq(size, 1.0 / rate_hz)
    cross[(hz < _BAND_HZ[0]) | (hz > _BAND_HZ[1])] = 0.0
    likeness = irfft(cross, size)[: within.size - stretch.size + 1]
    at = int(np.argmax(likeness))
    if 0 < at < likeness.size - 1:
        # a parabola through the peak: clocks differ by less than a sample in a stretch
        before, here, after = likeness[at - 1 : at + 2]
        bend = before - 2.0 * here + after
        return at + (0.5 * (before - after) / bend if bend < 0.0 else 0.0)
    return float(at)
