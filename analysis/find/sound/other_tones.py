"""Sounds that no engine makes: from voices, music, knocks, a fan or the mains.

Noise between the orders is even: of a dozen gaps none stands far out of the rest for long. A voice
and music put tones there, now in one gap and now in another. A hum does too, but always at its own
few frequencies. A knock lifts the hiss above the orders for a moment, which neither road, wind nor
the driver's foot does.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.find.sound.background import level_db, smooth_terms, strayed
from analysis.find.sound.order_tracking import ORDERS, OrderFrames
from analysis.find.sound.wide_bands import BandLevels

_LEAST_FRAMES = 100  # judgement: in fewer a single word or note would count for much
# judgement: noise strays so far once in 3,000 times (chi-square of four degrees of freedom)
_STANDS_OUT_DB = 9.0
_GAPS = ORDERS >= 3.0  # judgement: below, gaps are narrow and the engine's own skirts fill them
_STEP = 0.04  # of a frequency: two thirds of a semitone, by which notes are told apart
_FEW = 6  # judgement: tones that a hum has, its harmonics included
_EVEN_SHARE = 0.03  # judgement: hums and music have more, engines 0.013 at most
# judgement: a talker 10 dB under the engine has 0.01, engines have so much only where a few
# frequencies hold it; a hum and its harmonics have 0.6 and more there, engines 0.43, voices and
# music 0.2 to 0.37. Only told.
_HEARD_SHARE = 0.007
_STEADY_SHARE = 0.4
# judgement: of all moments. Talk and music near the engine's level sound in 0.3 to 0.9, knocks in
# 0.27 at most. Beyond it bands may be notes, and only those are told that no note makes.
_MUCH_OF_TIME = 0.3
_STEADY_SHARE_OF_MUCH = 0.5  # judgement: only hums have more where so much stands out; only told
# judgement: of the hiss over its median of half a second. Knocks that come more often than once in
# ten seconds pass it, and shifts of gears that bang; free drives had none. Only told.
_BURST_DB = 6.0
_BURST_FRAMES = 5
_BURST_SHARE = 0.008


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherTones:
    """What stands out between the orders, or in the hiss.

    Attributes
    ----------
    share : of the gaps, in which something stands out
    time_share : of the moments, in which something does in any gap
    steady_share : of those, at the few commonest frequencies
    burst_share : of the moments, in which the hiss alone swells
    """

    share: float
    time_share: float
    steady_share: float
    burst_share: float

    @property
    def is_even(self) -> bool:
        """Whether hardly anything stands out."""
        return self.share < _EVEN_SHARE

    @property
    def are_many(self) -> bool:
        """Whether there is so much of voices or music that a band may be a note."""
        return self.time_share > _MUCH_OF_TIME and self.steady_share < _STEADY_SHARE_OF_MUCH

    @property
    def are_heard(self) -> bool:
        """Whether voices, music or knocks sound beside the engine."""
        some = self.share > _HEARD_SHARE and self.steady_share < _STEADY_SHARE
        return some or self.are_many or self.burst_share > _BURST_SHARE


NONE = OtherTones(share=0.0, time_share=0.0, steady_share=0.0, burst_share=0.0)


def other_tones(frames: OrderFrames, wide: BandLevels) -> OtherTones:
    """Look between the orders, and at the hiss above them."""
    if frames.time_s.size < _LEAST_FRAMES:
        return NONE
    over = _standing_out(frames)
    frame, gap = np.nonzero(over)
    return OtherTones(
        share=float(over.mean()),
        time_share=float(over.any(axis=1).mean()),
        steady_share=_steady_share(frames.rpm[frame] / 60.0 * ORDERS[_GAPS][gap]),
        burst_share=_burst_share(wide.hiss_db),
    )


def _standing_out(frames: OrderFrames) -> BoolArray:
    """Whether a tone is in each gap [shape=(n_frames, n_gaps)]."""
    terms = smooth_terms(frames.rpm)
    over_db = np.empty((frames.rpm.size, np.count_nonzero(_GAPS)), dtype=np.float32)
    # one by one: of a drive of hours there is no room for all in double precision
    for gap, of_order in enumerate(np.flatnonzero(_GAPS)):
        over_db[:, gap] = strayed(terms, level_db(frames.background_ms[:, of_order]))
    # a gust, a bump and a turn of the gain lift all gaps alike
    over_db -= np.median(over_db, axis=1, keepdims=True)
    return np.asarray(over_db > _STANDS_OUT_DB)


def _burst_share(hiss_db: NDArray[np.float32]) -> float:
    over_db = hiss_db - median_filter(hiss_db, _BURST_FRAMES)
    return float((over_db > _BURST_DB).mean()) if hiss_db.size else 0.0


def _steady_share(hz: FloatArray) -> float:
    if hz.size == 0:
        return 0.0
    places = np.floor(np.log(hz) / _STEP).astype(np.int64)
    times = np.sort(np.bincount(places - places.min()))[::-1]
    return float(times[:_FEW].sum() / hz.size)
