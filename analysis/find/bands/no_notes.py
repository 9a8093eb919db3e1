"""Bands of a drive in which music or voices sounded: only those that no note makes.

A note keeps its pitch while orders pass by, so it stands between orders as often as on one. What
sounds there at a band's frequencies, while the engine is elsewhere, tells how loud notes of that
pitch are. And on an order that passes, a note looks as wide as the window that tracks it, or as the
semitone within which it trembles. A tune does not wait for the engine: what each pass through a
band shows again is no note.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.bands.resonance_model import ResonanceFit
from analysis.find.bands.views import share_of_rise
from analysis.find.curves.order_points import OrderPoints
from analysis.find.sound.order_tracking import ORDERS, REVOLUTIONS, OrderFrames
from analysis.findings import DroneBand

# judgement: notes swell, so a band that only loudness tells must be 8 dB over all but a twentieth
# of them. One that each pass shows need be 4 dB over: of 41 bands that music made, none is; of 100
# that the car made on the same drives 31 are, where loud and wide ones alone were 19, and one of 20
# was music
_OVER_NOTES, _OVER_NOTES_AGAIN = 6.3, 2.5
_ALL_BUT_FEW = 0.95
_LEAST_CELLS = 30  # judgement: fewer places between orders say nothing of notes
_LINE_ORDERS = 1.5 / REVOLUTIONS  # half-power width of a Hann window's line, in orders, rounded up
_SEMITONE = 0.0595  # 2^(1/12) - 1; definition
# judgement: passes that must show a band, and how much of its rise each; those of the car had 0.6
_LEAST_PASSES, _SHOWN = 2, 0.5


def no_notes(
    fitted: Sequence[FittedOrder], frames: OrderFrames, *, are_many: bool
) -> tuple[FittedOrder, ...]:
    """Leave those bands of each order that no note makes.

    Where little sounds beside the engine, a band is told that is louder or wider than notes; where
    ``are_many``, it must be both, and each pass must show it.
    """
    return tuple(_kept(order, frames, are_many) for order in fitted)


def _kept(order: FittedOrder, frames: OrderFrames, are_many: bool) -> FittedOrder:
    kept = [
        (band, shape)
        for band, shape in zip(order.bands, order.shapes, strict=True)
        if (
            _is_wide(band)
            and _over_notes(band, frames) > _OVER_NOTES_AGAIN
            and _comes_again(band, order.points, shape)
            if are_many
            else _is_wide(band) or _over_notes(band, frames) > _OVER_NOTES
        )
    ]
    return replace(
        order, bands=tuple(band for band, _ in kept), shapes=tuple(shape for _, shape in kept)
    )


def _is_wide(band: DroneBand) -> bool:
    width = (band.high_rpm - band.low_rpm) / band.peak_rpm
    return width > max(_SEMITONE, _LINE_ORDERS / band.engine_order)


def _comes_again(band: DroneBand, points: OrderPoints, shape: ResonanceFit) -> bool:
    passes = (points.pass_index == number for number in np.unique(points.pass_index))
    shares = [share_of_rise(band, points, each, shape) for each in passes]
    known = [share for share in shares if share is not None]
    return len(known) >= _LEAST_PASSES and min(known) >= _SHOWN


def _over_notes(band: DroneBand, frames: OrderFrames) -> float:
    """Mean square of a band over that of all but few notes; 0 where nothing tells of them."""
    inside = (frames.rpm > band.low_rpm) & (frames.rpm < band.high_rpm)
    turns_s = frames.rpm / 60.0
    notes = np.concatenate(
        [
            frames.background_ms[~inside & _within(order * turns_s, band), gap]
            for gap, order in enumerate(ORDERS)
        ]
    )
    if notes.size < _LEAST_CELLS or not inside.any():
        return 0.0
    own = frames.total_ms[inside, int(np.searchsorted(ORDERS, band.engine_order))]
    return float(own.mean()) / float(np.quantile(notes, _ALL_BUT_FEW))


def _within(hz: FloatArray, band: DroneBand) -> BoolArray:
    return np.asarray((hz > band.low_hz) & (hz < band.high_hz))
