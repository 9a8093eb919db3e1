"""A recorder that holds the level: how its gain moved, with the background as witness.

A leveller moves all frequencies alike. Road, wind and gas between the high orders know of no drone
below them: their level over engine speed is smooth, and what they stray from that is the gain. Two
signs tell a leveller from a cabin whose noise strays by itself; both are its definition.

- The gain falls while the sound is louder than the level it holds, and rises while it is softer: so
  the *change* of the background goes against the level. Gusts, speech, load and hiss that come with
  the sound do not do that; they rise and fall with it. Knocks and notes may do so by chance in one
  background; so two are asked, between the orders and in the hiss above them.
- A fast leveller leaves no such error to see, but then the background dips at just those engine
  speeds at which the orders stand out of it, each time they are driven through, and in the hiss as
  between the orders. A slow one leaves a little of that too, or is none.

Where the car stands, pulls away or rolls out, there is no road to hear: the background falls by
tens of dB at one engine speed. Such moments say nothing of a gain.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.sound.background import (
    between_orders_db,
    level_db,
    smooth_terms,
    solved,
    strayed,
    within_passes,
)
from analysis.find.sound.frame_power import add_to_rows
from analysis.find.sound.order_tracking import HOP_S, OrderFrames
from analysis.find.sound.wide_bands import BandLevels

# judgement: they only decide whether a drive is doubted and the gain undone; measured on generated
# drives and recorded engines, see ``tests/benchmarks/doubts``.
_LEAST_FRAMES = 100
_LEAST_SWEEP = 0.2  # of engine speed: a level that stands still may well be steady
_SMOOTH = 5  # frames: chance moves the background by 1 dB over half a second
_KNOT = 0.05  # of engine speed, between the points of a curve that may have hills
_REACH = 4  # frames to either side over which the gain's change is taken
_AT_ONCE = 2000  # frames; judgement: memory against time, no answer changes
_DEPENDENT_S = 3.0  # frames further apart than this are taken to err each for itself
# judgement: seconds in which a leveller follows a rise and a fall; the ends of what phones do
_LAGS_S = ((0.05, 0.05), (0.3, 0.3), (0.05, 1.0), (0.05, 3.0), (0.3, 3.0))


class AutomaticGain(StrEnum):
    """How sure it is that the recorder changed its own gain."""

    NO = "no"
    LIKELY = "likely"
    CERTAIN = "certain"


# judgement: in units of what chance does. On 121 generated free drives the first sign lay at
# -0.1 +- 0.6 in the mean of both backgrounds and the second at -0.9 +- 1.4 in the weaker of
# both, each over its own error.
_CHANGE_SPREAD = 0.6
_DIP_MIDDLE, _DIP_SPREAD = -0.9, 1.4
_LIMITS = {AutomaticGain.CERTAIN: -5.0, AutomaticGain.LIKELY: -2.7}
# judgement: of the first sign, without which the second must be deep; free drives with gears reach
# -5.8, and only a leveller too fast for the first sign goes beyond -9
_AGAINST, _DEEP = -0.6, -9.0
# judgement: a background that is not quite smooth over engine speed has up to 0.5
_LEAST_DEPTH_DB = 0.6
# judgement: a gain that follows the level leaves at least so much of a dip, at whatever speed: of
# 70 levelled roads the shallowest had -2.4 and 0.30 dB; free ones whose background goes against
# the level by chance have less
_ANY_DIP, _ANY_DEPTH_DB = -2.0, 0.25
# judgement: of what the level stands above the hiss, over its median; no gain changes that. Most
# drones stay below. With 12 the same generated free drives are accused, with 20 one of 100 more.
_STANDING_DB = 15.0
_MOST_TOGETHER = 0.3  # of background's and level's quick changes: more is a sound beside both


@dataclass(frozen=True, slots=True, kw_only=True)
class RecorderGain:
    """What the recorder did with its gain; ``gain_db`` [shape=(n_frames,)] is 0 in the middle."""

    verdict: AutomaticGain
    gain_db: FloatArray


def recorder_gain(
    frames: OrderFrames, wide: BandLevels, pass_index: IntArray, *, is_limited: bool, is_even: bool
) -> RecorderGain:
    """Judge the gain and follow it; ``pass_index`` [shape=(n_frames,)] as in the passes of a drive.

    ``is_limited`` says that the crests already show it, ``is_even`` that no tone stands between the
    orders, which would come and go with engine speed as a dip does.
    """
    nothing = RecorderGain(verdict=AutomaticGain.NO, gain_db=np.zeros(frames.time_s.size))
    if not _is_sweep(frames.rpm):
        return nothing
    level = _smoothed(level_db(frames.total_ms.sum(axis=1)))
    between_db = _smoothed(between_orders_db(frames))
    hiss_db = _smoothed(np.interp(frames.time_s, wide.time_s, wide.hiss_db))
    on_road = level - hiss_db < np.median(level - hiss_db) + _STANDING_DB
    if not _is_sweep(frames.rpm[on_road]):
        return nothing
    passes = pass_index[on_road]
    smooth = within_passes(smooth_terms(frames.rpm[on_road]), passes)
    orders_db = strayed(smooth, within_passes(level[on_road], passes))

    def on_the_road(witness_db: FloatArray) -> _Witness:
        return _Witness(
            time_s=frames.time_s[on_road],
            rpm=frames.rpm[on_road],
            pass_index=passes,
            smooth=smooth,
            stray=strayed(smooth, within_passes(witness_db[on_road], passes)),
            level=orders_db,
            above=(level - witness_db)[on_road],
        )

    between, hiss = on_the_road(between_db), on_the_road(hiss_db)
    verdict = AutomaticGain.CERTAIN if is_limited else _verdict(between, hiss, is_even=is_even)
    if verdict is AutomaticGain.NO:
        return nothing
    # the hiss has many lines, so chance moves it less than the few between the orders
    gain_db = np.interp(frames.time_s, hiss.time_s, hiss.taken_db())
    return RecorderGain(verdict=verdict, gain_db=gain_db - np.median(gain_db))


def _is_sweep(rpm: FloatArray) -> bool:
    return rpm.size >= _LEAST_FRAMES and float(np.ptp(np.log(rpm))) >= _LEAST_SWEEP


def _verdict(witness: "_Witness", hiss: "_Witness", *, is_even: bool) -> AutomaticGain:
    change = 0.5 * (witness.change_against_level() + hiss.change_against_level())
    score = change / _CHANGE_SPREAD
    if not is_even:  # what sounds beside the engine moves both backgrounds by itself
        return AutomaticGain.CERTAIN if score < _LIMITS[AutomaticGain.CERTAIN] else AutomaticGain.NO
    dip = witness.deepest_dip()
    if dip.slope > _ANY_DIP or dip.depth_db < _ANY_DEPTH_DB:
        return AutomaticGain.NO  # most drives end here, and the hiss need not be asked
    slope = max(dip.slope, hiss.deepest_dip().slope)  # the weaker one: a gain moves both
    if slope > _ANY_DIP:
        return AutomaticGain.NO
    # another gear's road may move both backgrounds as well
    if witness.together() < _MOST_TOGETHER:
        is_sure = change < _AGAINST or slope < _DEEP
        if is_sure and dip.depth_db > _LEAST_DEPTH_DB:
            score += (slope - _DIP_MIDDLE) / _DIP_SPREAD
    verdicts = (verdict for verdict, limit in _LIMITS.items() if score < limit)
    return next(verdicts, AutomaticGain.NO)


def undone(frames: OrderFrames, gain: RecorderGain) -> OrderFrames:
    """Give the frames as they were before the recorder's gain."""
    factor = 10.0 ** (-0.1 * gain.gain_db[:, np.newaxis])
    return replace(
        frames,
        total_ms=(frames.total_ms * factor).astype(np.float32),
        background_ms=(frames.background_ms * factor).astype(np.float32),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dip:
    """How the witness goes with what stands above it, as a leveller would follow it.

    ``slope`` over its own error, ``share`` in dB for each dB, ``depth_db`` in the root mean square;
    ``followed`` [shape=(n_frames,)] is the level as that leveller takes it.
    """

    slope: float
    share: float
    depth_db: float
    followed: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Witness:
    """A level that knows of no drone, beside the level of the orders; all [shape=(n_frames, ...)].

    ``smooth`` is what the witness may do by itself, ``stray`` what it does else, ``level`` what the
    orders do else, and ``above`` their level over it, which no gain changes. All but ``above`` are
    without the mean of each pass.
    """

    time_s: FloatArray
    rpm: FloatArray
    pass_index: IntArray
    smooth: FloatArray
    stray: FloatArray
    level: FloatArray
    above: FloatArray

    def change_against_level(self) -> float:
        """How the witness's change goes with the level, over its own error."""
        middle = np.arange(_REACH, self.stray.size - _REACH)
        after, before = middle + _REACH, middle - _REACH
        # across lost sound a change has had longer to come about
        whole = self.time_s[after] - self.time_s[before] < 2.5 * _REACH * HOP_S
        middle, after, before = middle[whole], after[whole], before[whole]
        if middle.size < _LEAST_FRAMES:
            return 0.0
        # a slow leveller turns down while it is loud: its change goes with the level, not its gain
        change = _centred(self.stray[after] - self.stray[before])
        return _slope(_centred(self.level[middle]), change)

    def together(self) -> float:
        """Correlation of the quick changes of witness and level."""
        step = 2 * _REACH
        a = self.stray[step:] - self.stray[:-step]
        b = self.level[step:] - self.level[:-step]
        size = float(np.sqrt(np.dot(a, a) * np.dot(b, b)))
        return float(np.dot(a, b)) / size if size > 0.0 else 0.0

    def deepest_dip(self) -> _Dip:
        """Let levellers of several speeds follow the hills, and give the one that fits best."""
        above = within_passes(self.above, self.pass_index)
        hills = _hills(np.log(self.rpm), self.pass_index, above)
        dips = (self._dip(_followed(hills, *lag_s)) for lag_s in _LAGS_S)
        return min(dips, key=lambda dip: dip.slope)

    def taken_db(self) -> FloatArray:
        """Give what the gain did: by the hills it follows, and by all else that the witness shows.

        What differs from pass to pass is the hills' alone: in another gear the witness is another.
        """
        dip = self.deepest_dip()
        # no leveller gives, nor takes more than all
        taken = min(max(dip.share, -1.0), 0.0) * dip.followed
        return taken + strayed(self.smooth, self.stray - within_passes(taken, self.pass_index))

    def _dip(self, followed: FloatArray) -> _Dip:
        hills = strayed(self.smooth, within_passes(followed, self.pass_index))
        power = float(np.dot(hills, hills))
        share = float(np.dot(hills, self.stray)) / power if power > 0.0 else 0.0
        return _Dip(
            slope=_slope(hills, self.stray),
            share=share,
            depth_db=-share * float(hills.std()),
            followed=followed,
        )


def _hills(log_rpm: FloatArray, pass_index: IntArray, values: FloatArray) -> FloatArray:
    """Give what hills over engine speed explain of ``values``, which have no mean in any pass.

    All [shape=(n_frames,)]. Block by block: of a drive of hours there is no room for its splines.
    """
    low, high = float(log_rpm.min()), float(log_rpm.max())
    steps = max(6, int((high - low) / _KNOT)) - 1
    position = (log_rpm - low) * (steps / (high - low))
    blocks = [slice(first, first + _AT_ONCE) for first in range(0, log_rpm.size, _AT_ONCE)]
    count = np.maximum(np.bincount(pass_index), 1)
    square, along = np.zeros((steps + 3, steps + 3)), np.zeros(steps + 3)
    in_pass = np.zeros((count.size, steps + 3))
    for here in blocks:
        terms = _splines(position[here], steps)
        square += terms.T @ terms
        along += terms.T @ values[here]
        add_to_rows(in_pass, pass_index[here], terms)
    square -= in_pass.T @ (in_pass / count[:, np.newaxis])  # the terms have no mean either
    shares = solved(square, along)
    hills = np.concatenate([_splines(position[here], steps) @ shares for here in blocks])
    return within_passes(hills, pass_index)


def _splines(position: FloatArray, steps: int) -> FloatArray:
    """Cubic B-splines on even knots [shape=(n_frames, steps + 3)]; positions are 0 to ``steps``.

    Written out (Unser, IEEE Signal Process. Mag. 16-6 (1999) 22, equation 2): the splines of a
    library are made for uneven knots, and take 20 MB to load.
    """
    away = np.abs(position[:, np.newaxis] - np.arange(-1, steps + 2))
    outer, inner = np.maximum(2.0 - away, 0.0), np.maximum(1.0 - away, 0.0)
    return np.asarray((outer * outer * outer - 4.0 * inner * inner * inner) / 6.0)


def _followed(level_db: FloatArray, rise_s: float, fall_s: float) -> FloatArray:
    """Level as a leveller takes it, that follows it up and down in these times."""
    up, down = (1.0 - float(np.exp(-HOP_S / each)) for each in (rise_s, fall_s))

    # one by one: up and down go at different paces, which no linear filter of a library does
    def follow(now: float) -> Iterator[float]:
        for value in level_db.tolist():
            now += (up if value > now else down) * (value - now)
            yield now

    return np.fromiter(follow(float(level_db[0])), dtype=np.float64)


def _slope(cause: FloatArray, effect: FloatArray) -> float:
    """Slope of ``effect`` by ``cause``, over its own error; both about zero."""
    power = float(np.dot(cause, cause))
    if power <= 0.0:
        return 0.0
    slope = float(np.dot(cause, effect)) / power
    left = effect - slope * cause
    error = np.sqrt(float(left.var()) * _dependence(left) / power)
    return slope / float(error) if error > 0.0 else 0.0


def _dependence(left: FloatArray) -> float:
    """Factor by which frames that err alike widen the variance: their correlations, summed."""
    power = float(np.dot(left, left))
    if power <= 0.0:
        return 1.0
    lags = range(1, min(round(_DEPENDENT_S / HOP_S), left.size // 4))
    alike = (float(np.dot(left[lag:], left[:-lag])) / power for lag in lags)
    return 1.0 + 2.0 * sum(max(each, 0.0) for each in alike)


def _centred(values: FloatArray) -> FloatArray:
    return np.asarray(values - values.mean())


def _smoothed(values: FloatArray) -> FloatArray:
    return np.asarray(uniform_filter1d(values, _SMOOTH, mode="nearest"))
