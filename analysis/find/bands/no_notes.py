"""Bands of a drive in which music or voices sounded: only those that no note makes.

A note keeps its pitch while orders pass by, so it stands between orders as often as on one. What
sounds there at a band's frequencies, while the engine is elsewhere, tells how loud notes of that
pitch are. And on an order that passes, a note looks as wide as the window that tracks it, or as the
semitone within which it trembles.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.find.sound.order_tracking import ORDERS, REVOLUTIONS, OrderFrames
from analysis.findings import DroneBand

# judgement: notes swell, so a band must be 8 dB over all but a twentieth of them; measured, see
# ``tests/benchmarks/doubts``
_OVER_NOTES = 6.3
_ALL_BUT_FEW = 0.95
_LEAST_CELLS = 30  # judgement: fewer places between orders say nothing of notes
_LINE_ORDERS = 1.5 / REVOLUTIONS  # half-power width of a Hann window's line, in orders, rounded up
_SEMITONE = 0.0595  # 2^(1/12) - 1; definition


def no_notes(
    bands: Sequence[DroneBand], frames: OrderFrames, *, are_many: bool
) -> tuple[DroneBand, ...]:
    """Those of ``bands`` that are louder and wider than what sounds beside the engine.

    Where that is little, a band is told that is either; where ``are_many``, it must be both.
    """
    asked = all if are_many else any
    return tuple(band for band in bands if asked((_is_wide(band), _is_loud(band, frames))))


def _is_wide(band: DroneBand) -> bool:
    width = (band.high_rpm - band.low_rpm) / band.peak_rpm
    return width > max(_SEMITONE, _LINE_ORDERS / band.engine_order)


def _is_loud(band: DroneBand, frames: OrderFrames) -> bool:
    inside = (frames.rpm > band.low_rpm) & (frames.rpm < band.high_rpm)
    turns_s = frames.rpm / 60.0
    notes = np.concatenate(
        [
            frames.background_ms[~inside & _within(order * turns_s, band), gap]
            for gap, order in enumerate(ORDERS)
        ]
    )
    if notes.size < _LEAST_CELLS or not inside.any():
        return False
    own = frames.total_ms[inside, int(np.searchsorted(ORDERS, band.engine_order))]
    return float(own.mean()) > _OVER_NOTES * float(np.quantile(notes, _ALL_BUT_FEW))


def _within(hz: FloatArray, band: DroneBand) -> BoolArray:
    return np.asarray((hz > band.low_hz) & (hz < band.high_hz))
