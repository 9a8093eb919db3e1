"""Computed order tracking: the sound resampled to even crankshaft angle, frame by frame.

In a frame of equal angle steps an engine order is a line that stands still however fast the
engine speeds up (Fyfe & Munck, Mech. Syst. Signal Process. 11 (1997) 187). A Hann window over
16 revolutions puts a line every 1/16 order: an order's energy lies within two lines of its own,
and the fourth line to either side, half-way to the next half order, holds only the noise.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.sound.even_angle import even_in_angle, power_gain
from analysis.find.sound.frame_power import frame_power, mean_square_window
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy

# judgement: order 12 is the third harmonic of firing of a V8, and beyond the drone; half orders are
# where an uneven engine shows.
ORDERS = np.arange(0.5, 12.01, 0.5)
HOP_S = 0.1

# judgement: 16 turns part half orders by eight lines, and at 2,000 rpm last 0.5 s; more smear a
# fast sweep, fewer let a strong order leak into its neighbour. 20 % more moves a peak by 0.02 % and
# a rise by 0.2 dB, of HOP_S 0.06 % and 0.5 dB, of the others nothing.
REVOLUTIONS = 16
POINTS_PER_REVOLUTION = 64  # noise above order 52 folds onto order 12 and below; it is weak
_HIGHEST_ORDER = 12.5  # so that the gap above the last order is in
LINES = int(_HIGHEST_ORDER * REVOLUTIONS) + 1  # of a spectrum
# judgement: time against memory; 1000 moves a speed by 1e-6 of it, since a chunk lays the points
_CHUNK_FRAMES = 500
_LARGEST_SPEED_CHANGE = 0.25  # over one window: beyond it the rpm of the frame means little


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSpectra:
    """Order spectra of the frames of one chunk.

    Attributes
    ----------
    time_s, rpm : ndarray [shape=(n_frames,)]
        Middle of each frame, and engine speed there.
    mean_square : ndarray [shape=(n_frames, n_lines)]
        Line k lies at order k / 16. The lines of a steady order add up to its mean square;
        those of noise to its mean square in that band.
    """

    time_s: FloatArray
    rpm: FloatArray
    mean_square: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFrames:
    """Mean square of every order in every frame, and of the noise in the same bandwidth.

    ``time_s``, ``rpm`` [shape=(n_frames,)]; ``total_ms``, ``background_ms``
    [shape=(n_frames, n_orders)] for :data:`ORDERS`.
    """

    time_s: FloatArray
    rpm: FloatArray
    total_ms: NDArray[np.floating]
    background_ms: NDArray[np.floating]


def order_spectra(
    copy: WorkingCopy,
    track: SpeedTrack,
    *,
    hop_s: float = HOP_S,
    points_per_revolution: int = POINTS_PER_REVOLUTION,
    highest_order: float = _HIGHEST_ORDER,
) -> Iterator[OrderSpectra]:
    """Order spectra wherever sound and engine speed are known over the whole window."""
    size = REVOLUTIONS * points_per_revolution
    window = mean_square_window(size)
    # frequency of each line, as a part of the sample rate, for each rpm
    lines = int(highest_order * REVOLUTIONS) + 1
    part_of_rate = np.arange(lines) / (REVOLUTIONS * 60.0 * copy.sample_rate_hz)
    part_of_rate = part_of_rate.astype(np.float32)
    centre_s = frame_centres(copy, track, hop_s)
    for middle_s, frames, chosen in frames_in_angle(copy, track, centre_s, points_per_revolution):
        power = frame_power(frames, chosen, window, fft_size=size, lines=lines)
        rpm = track.at(middle_s)
        # what the resampling took from high lines is given back here, where it costs a factor
        power /= power_gain(np.multiply.outer(rpm.astype(np.float32), part_of_rate))
        yield OrderSpectra(time_s=middle_s, rpm=rpm, mean_square=power)


def frames_in_angle(
    copy: WorkingCopy,
    track: SpeedTrack,
    centre_s: FloatArray,
    points_per_revolution: int = POINTS_PER_REVOLUTION,
) -> Iterator[tuple[FloatArray, NDArray[np.float32], IntArray]]:
    """Windows around some moments in even steps of angle, chunk by chunk.

    Yields the moments [shape=(n_frames,)], every window of the chunk that there is
    [shape=(n_points, 16 * points_per_revolution)], of which neighbours overlap in memory, and
    which of them lie around the moments [shape=(n_frames,)].
    """
    turns, grid_s = track.revolutions, track.time_s
    size = REVOLUTIONS * points_per_revolution
    for first in range(0, centre_s.size, _CHUNK_FRAMES):
        middle_s = centre_s[first : first + _CHUNK_FRAMES]
        start = np.interp(middle_s, grid_s, turns) - 0.5 * REVOLUTIONS
        # to the nearest point, off by half of one at most: then all frames share one resampling
        chosen = np.rint((start - start[0]) * points_per_revolution).astype(np.int64)
        count = int(chosen[-1]) + size
        even = even_in_angle(copy, turns, grid_s, float(start[0]), count, points_per_revolution)
        yield middle_s, np.lib.stride_tricks.sliding_window_view(even, size), chosen


def frame_centres(copy: WorkingCopy, track: SpeedTrack, hop_s: float = HOP_S) -> FloatArray:
    """Moments around which sound and engine speed are known for a whole window [shape=(n,)]."""
    centre_s = np.arange(hop_s, copy.duration_s, hop_s)
    rpm = track.at(centre_s)
    half_s = 0.5 * REVOLUTIONS * 60.0 / rpm
    usable = np.isfinite(rpm) & (centre_s > half_s) & (centre_s < copy.duration_s - half_s)
    usable &= _speed_known(track, centre_s, half_s)
    # the turns of a window need a little more time on the side on which the engine slows down
    reach_s = np.nan_to_num(half_s * (1.0 + _LARGEST_SPEED_CHANGE))
    usable &= ~copy.gaps.touch(centre_s - reach_s, centre_s + reach_s)
    return centre_s[usable]


def track_orders(spectra: Iterable[OrderSpectra]) -> OrderFrames:
    """Mean square of every half order to 12 in every frame of :func:`order_spectra`."""
    times, speeds, totals, backgrounds = [], [], [], []
    for part in spectra:
        lines = part.mean_square
        times.append(part.time_s)
        speeds.append(part.rpm)
        # a Hann line is three lines wide; two more to either side catch a speed that is a little
        # off
        near = [_beside(lines, step) for step in range(-2, 3)]
        totals.append(near[0] + near[1] + near[2] + near[3] + near[4])
        # a quarter order to either side is as far from orders as one gets; five lines' worth, as in
        # the total
        backgrounds.append(np.float32(2.5) * (_beside(lines, -4) + _beside(lines, 4)))
    return OrderFrames(
        time_s=np.concatenate([np.empty(0), *times]),
        rpm=np.concatenate([np.empty(0), *speeds]),
        total_ms=_joined(totals),
        background_ms=_joined(backgrounds),
    )


def _beside(lines: NDArray[np.float32], step: int) -> NDArray[np.float32]:
    """Line of each order, or that so many lines above it [shape=(n_frames, n_orders)]."""
    spacing = REVOLUTIONS // 2
    return lines[:, spacing + step :: spacing][:, : ORDERS.size]


def _joined(parts: list[NDArray[np.float32]]) -> NDArray[np.float32]:
    """Join and let go of the parts: of a drive of hours there is no room for both twice."""
    whole = np.concatenate([np.empty((0, ORDERS.size), dtype=np.float32), *parts])
    parts.clear()
    return whole


def _speed_known(track: SpeedTrack, centre_s: FloatArray, half_s: FloatArray) -> NDArray[np.bool_]:
    """Whether the speed is known throughout the window and changes by less than a quarter."""
    # how many unknown points came before: a window whose ends count alike holds none
    unknown = np.concatenate([[0], np.cumsum(~np.isfinite(track.rpm))])
    half_s = np.nan_to_num(half_s)
    first = np.rint((centre_s - half_s - track.start_s) / track.step_s).astype(np.int64)
    last = np.rint((centre_s + half_s - track.start_s) / track.step_s).astype(np.int64)
    inside = (first >= 0) & (last < track.rpm.size)
    first, last = np.where(inside, first, 0), np.where(inside, last, 0)
    known = inside & (unknown[last + 1] == unknown[first])
    with np.errstate(invalid="ignore"):
        # a logarithm, so that a climb and a fall by the same ratio count alike
        change = np.abs(np.log(track.rpm[last] / track.rpm[first]))
        return np.asarray(known & (change < _LARGEST_SPEED_CHANGE))
