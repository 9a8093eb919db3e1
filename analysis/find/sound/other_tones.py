"""Tones that no engine makes: lines between the orders, from voices, music, a fan or the mains.

Noise between the orders is even: of a dozen gaps none stands far out of the rest for long. A voice
and music put tones there, now in one gap and now in another. A hum does too, but always at its own
few frequencies.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.find.sound.background import between_orders_db, level_db, smooth_terms, strayed
from analysis.find.sound.order_tracking import ORDERS, OrderFrames

_LEAST_FRAMES = 100  # judgement: in fewer a single word or note would count for much
# judgement: noise strays so far once in 3,000 times (chi-square of four degrees of freedom)
_STANDS_OUT_DB = 9.0
_FIRST_ORDER = 3.0  # judgement: below, gaps are narrow and the engine's own skirts fill them
_STEP = 0.04  # of a frequency: two thirds of a semitone, by which notes are told apart
_FEW = 6  # judgement: tones that a hum has, its harmonics included
_EVEN_SHARE = 0.03  # judgement: hums and music have more, engines 0.013 at most
_SILENCE_MS = 1e-30


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherTones:
    """What stands out between the orders.

    Attributes
    ----------
    uneven_db : level of the mean over the mean level of the high gaps, in half of the drive; of
        noise 1 to 2 dB
    share : of the gaps, in which something stands out
    steady_share : of those, at the few commonest frequencies
    """

    uneven_db: float
    share: float
    steady_share: float

    @property
    def is_even(self) -> bool:
        """Whether hardly anything stands out."""
        return self.share < _EVEN_SHARE


NONE = OtherTones(uneven_db=0.0, share=0.0, steady_share=0.0)


def other_tones(frames: OrderFrames) -> OtherTones:
    """Look between the orders."""
    if frames.time_s.size < _LEAST_FRAMES:
        return NONE
    high_db = between_orders_db(frames)
    mean_db = 10.0 * np.log10((10.0 ** (0.1 * high_db)).mean(axis=1) + _SILENCE_MS)
    over, hz = _standing_out(frames)
    return OtherTones(
        uneven_db=float(np.median(mean_db - high_db.mean(axis=1))),
        share=float(over.mean()),
        steady_share=_steady_share(hz[over]),
    )


def _standing_out(frames: OrderFrames) -> tuple[BoolArray, FloatArray]:
    """Whether a tone is in each gap, and where the gap lies [shape=(n_frames, n_gaps)]."""
    columns = np.flatnonzero(ORDERS >= _FIRST_ORDER)
    terms = smooth_terms(frames.rpm)
    over_db = strayed(terms, level_db(frames.background_ms[:, columns])).astype(np.float32)
    # a gust, a bump and a turn of the gain lift all gaps alike
    over_db -= np.median(over_db, axis=1, keepdims=True)
    return over_db > _STANDS_OUT_DB, frames.rpm[:, np.newaxis] / 60.0 * ORDERS[columns]


def _steady_share(hz: FloatArray) -> float:
    if hz.size == 0:
        return 0.0
    places = np.floor(np.log(hz) / _STEP).astype(np.int64)
    times = np.sort(np.bincount(places - places.min()))[::-1]
    return float(times[:_FEW].sum() / hz.size)
