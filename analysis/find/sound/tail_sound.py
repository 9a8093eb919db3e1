"""The same engine order with two microphones, in the cabin and near the tailpipe.

Both are resampled by the same turns of the crankshaft, so their phases belong together. Their ratio
is the usual estimate of two channels whose second is free of noise (H1; Bendat and Piersol, Random
Data, ch. 6, from memory), with the wind at the tail taken out of that one's power: it is known from
between the orders.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft

from analysis.basics.arrays import ComplexArray, FloatArray, IntArray
from analysis.basics.rows import rows
from analysis.basics.rpm_bins import bin_of
from analysis.drive import Sound
from analysis.find.sound.automatic_gain import AutomaticGain, recorder_gain
from analysis.find.sound.order_tracking import (
    HOP_S,
    POINTS_PER_REVOLUTION,
    REVOLUTIONS,
    frame_centres,
    frames_in_angle,
    order_spectra,
    track_orders,
)
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.wide_bands import band_levels
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import TailSound

# judgement: lines of an order, and one half-way to the next: a Hann line wide, and a speed that
# is a little off; as in order_tracking
_NEAR, _BESIDE = 2, 4
_CLIPPED = 1e-4  # judgement: of the samples; a knock or two that is cut off bends no ratio
# judgement: of the tail's power, whatever the noise between the orders says; where the tail is as
# quiet as that, the noise of the ratio counts it for little
_LEAST_CLEAR = 0.2
_LEAST_COHERENT = 1e-3  # keeps a quotient finite; judgement: such a point counts for nothing
# Frames that overlap by more than half of a Hann window tell nothing new (Welch, IEEE Trans. Audio
# Electroacoust. 15 (1967) 70, from memory).
_NEW_AFTER = 0.5
_FEWEST_POINTS = 8  # judgement: as for a curve that shows the shape of a drone


class TailFault(StrEnum):
    """Why the microphone at the tail says nothing."""

    CLIPPED = "clipped"
    HELD = "held"
    NOT_HEARD = "not heard"


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTail:
    """Each order at the tail; none, and why, where that cannot be told."""

    orders: tuple[TailSound, ...] = ()
    fault: TailFault | None = None


NO_TAIL = AtTail()


def tail_sound(
    copy: WorkingCopy,
    tail: Sound,
    track: SpeedTrack,
    orders: Sequence[float],
    pass_index: IntArray,
    *,
    is_even: bool,
) -> AtTail:
    """Compare the cabin's sound, in ``copy``, with that at the tail, order by order.

    ``pass_index`` [shape=(n_frames,)] counts passes at the frames of ``copy``, ``is_even`` is as in
    `recorder_gain`. An order that was not heard over enough of the drive is left out.
    """
    with WorkingCopy(tail, lambda _: None) as other:
        if other.facts.clipped_fraction > _CLIPPED:
            return AtTail(fault=TailFault.CLIPPED)
        if _is_held(other, track, pass_index, is_even=is_even):
            return AtTail(fault=TailFault.HELD)
        centre_s = frame_centres(copy, track)
        sums = _over_frames(copy, other, track, centre_s, orders)
    rpm = track.at(centre_s)
    told = [
        _of_order(order, bin_of(rpm), rpm, sums[:, column]) for column, order in enumerate(orders)
    ]
    heard = tuple(each for each in told if each is not None)
    return AtTail(orders=heard, fault=None if heard or not orders else TailFault.NOT_HEARD)


def _is_held(other: WorkingCopy, track: SpeedTrack, pass_index: IntArray, *, is_even: bool) -> bool:
    """Whether the recorder changed its gain, which would look like another way into the cabin."""
    frames = track_orders(order_spectra(other, track))
    if frames.time_s.size != pass_index.size:
        return False  # never of one file's channels; nothing to judge by then
    heard = np.flatnonzero(frames.total_ms.sum(axis=1) > 0.0)
    gain = recorder_gain(
        rows(frames, heard),
        band_levels(other),
        pass_index[heard],
        is_limited=other.facts.is_limited,
        is_even=is_even,
    )
    return gain.verdict is not AutomaticGain.NO


def _over_frames(
    copy: WorkingCopy,
    other: WorkingCopy,
    track: SpeedTrack,
    centre_s: FloatArray,
    orders: Sequence[float],
) -> ComplexArray:
    """Cross power, power in the cabin, at the tail, and between orders there, of each frame.

    [shape=(n_frames, n_orders, 4)]
    """
    parts = [np.empty((0, len(orders), 4), dtype=np.complex128)]
    both = (_spectra(each, track, centre_s) for each in (copy, other))
    for cabin, tail in zip(*both, strict=True):
        parts.append(np.stack([_products(cabin, tail, order) for order in orders], axis=1))
    return np.concatenate(parts)


def _spectra(
    copy: WorkingCopy, track: SpeedTrack, centre_s: FloatArray
) -> Iterator[NDArray[np.complex64]]:
    """Spectra of the frames, chunk by chunk [shape=(n_frames, n_lines)]."""
    window = np.hanning(REVOLUTIONS * POINTS_PER_REVOLUTION + 1)[:-1].astype(np.float32)
    for _, frames, chosen in frames_in_angle(copy, track, centre_s):
        yield np.asarray(rfft(frames[chosen] * window, axis=1))


def _products(
    cabin: NDArray[np.complex64], tail: NDArray[np.complex64], order: float
) -> ComplexArray:
    line = round(order * REVOLUTIONS)
    near = slice(line - _NEAR, line + _NEAR + 1)
    inside, outside = cabin[:, near], tail[:, near]
    beside = np.abs(tail[:, [line - _BESIDE, line + _BESIDE]]) ** 2
    return np.stack(
        [
            np.sum(inside * np.conj(outside), axis=1),
            np.sum(np.abs(inside) ** 2, axis=1),
            np.sum(np.abs(outside) ** 2, axis=1),
            (2 * _NEAR + 1) * beside.mean(axis=1),
        ],
        axis=1,
    )


def _of_order(
    order: float, bins: IntArray, rpm: FloatArray, sums: ComplexArray
) -> TailSound | None:
    # where the second recorder did not run, the channel holds nothing at all
    heard = sums[:, 2].real > 0.0
    present, where = np.unique(bins[heard], return_inverse=True)
    if present.size < _FEWEST_POINTS:
        return None
    count = np.bincount(where)
    mean_rpm = np.bincount(where, weights=rpm[heard]) / count
    cross, cabin, tail, beside = (
        np.bincount(where, weights=column.real) + 1j * np.bincount(where, weights=column.imag)
        for column in sums[heard].T
    )
    whole = np.maximum(tail.real, np.finfo(np.float32).tiny)
    clear = np.maximum(whole - beside.real, _LEAST_CLEAR * whole)
    coherent = np.abs(cross) ** 2 / np.maximum(whole * cabin.real, np.finfo(np.float32).tiny)
    coherent = np.clip(coherent, _LEAST_COHERENT, 1.0)
    new = np.maximum(1.0, HOP_S * count / (_NEW_AFTER * REVOLUTIONS * 60.0 / mean_rpm))
    return TailSound(
        engine_order=order,
        rpm=mean_rpm,
        ratio=cross / clear,
        # of either part, for so many frames (Bendat and Piersol, as above)
        sigma=np.sqrt((1.0 - coherent) / (2.0 * new * coherent)),
        tail_db=10.0 * np.log10(clear / count),
    )
