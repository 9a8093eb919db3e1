"""Lines of the sound while the engine speeds up or slows down.

A window long enough to part half orders is also long enough for a fast engine to run through them.
So each frame is heard at several rates of climb: its time is stretched until an engine that climbs
at that rate would hold still, and only then comes the spectrum. The window is as long as half
orders at the engine speed in question need, and no longer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.basics.levels import into_db
from analysis.find.sound.frame_power import frame_power
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_lines import between_lines, line_weights
from analysis.find.speed.speed_path import HOP_S, SPEEDS_RPM

HIGHEST_HZ = 900.0  # judgement: order 8 at 6,750 rpm
CHUNK_S = 30.0  # judgement: memory against calls, no answer changes
# judgement: half the longest window is 0.4 s, which the steepest climb stretches to 0.553 s, and
# more only costs time
_MARGIN_S = 0.6

# judgement: a Hann window parts lines 2 / length apart, and from a half order to the gap beside it
# is rpm / 240. An engine can climb by a factor of e in a second in neutral; longer windows hold no
# such climb at one rate.
_WINDOWS = (
    (0.8, np.arange(-2, 3) * 0.12, 1250.0),
    (0.4, np.arange(-3, 4) * 0.2, 2500.0),
    (0.2, np.arange(-3, 4) * 0.4, np.inf),
)
_AROUND_HZ = 80.0  # judgement: wider than the spacing of half orders, narrower than cabin modes
_AT_ONCE = 16_384  # judgement: samples, so that they stay in the processor's cache
# judgement: louder lines count no more, so that one hum cannot outvote all orders.
_SOFTEST_DB, _LOUDEST_DB = -8.0, 25.0
# judgement: samples to either side, and the window over them, that tell what lies half-way between
# two samples; images are 60 dB down
_BESIDE, _KAISER_BETA = 10, 5.0
_STEPS = np.arange(1 - 2 * _BESIDE, 2 * _BESIDE, 2)  # of half a sample
_HALF_WAY = np.sinc(0.5 * _STEPS) * np.kaiser(4 * _BESIDE + 1, _KAISER_BETA)[1::2]

Levels = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comb:
    """What to look for at each engine speed: how much a line at each order speaks for it.

    Attributes
    ----------
    orders, weights : ndarray [shape=(n_orders,)]
        Negative where no line should stand.
    """

    orders: FloatArray
    weights: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SweptScores:
    """Evidence for each engine speed.

    Attributes
    ----------
    time_s : ndarray [shape=(n_frames,)]
    score_db : ndarray [shape=(n_frames, n_speeds)]
        How far what should stand out does so above what should not, on average.
    rate_per_s : ndarray [shape=(n_frames, n_speeds)]
        Rate of climb, as a share of the speed, at which they stand out most.
    """

    time_s: FloatArray
    score_db: Levels
    rate_per_s: Levels


def swept_scores(copy: WorkingCopy, start_s: float, comb: Comb) -> SweptScores:
    """Scores of the frames of one chunk; those that touch a gap of the sound are left out."""
    count = round(min(CHUNK_S, copy.duration_s - start_s) / HOP_S)
    time_s = start_s + HOP_S * np.arange(count, dtype=np.float64)
    time_s = time_s[~copy.gaps.touch(time_s - 0.2, time_s + 0.2)]
    score_db = np.zeros((time_s.size, SPEEDS_RPM.size), dtype=np.float32)
    rate_per_s = np.zeros_like(score_db)
    if time_s.size == 0:  # the last chunk of a drive may be shorter than a hop, or all of it a gap
        return SweptScores(time_s=time_s, score_db=score_db, rate_per_s=rate_per_s)
    heard = _Heard.around(copy, time_s)
    lowest_rpm = 0.0
    for window_s, rates, highest_rpm in _WINDOWS:
        here = np.flatnonzero((lowest_rpm <= SPEEDS_RPM) & (highest_rpm > SPEEDS_RPM))
        for rate in rates:
            level_db, spacing_hz = heard.levels(time_s, np.full(time_s.size, rate), window_s)
            if rate == rates[0]:
                weight = line_weights(
                    level_db.shape[1], spacing_hz, SPEEDS_RPM[here], comb.orders, comb.weights
                )
            score = level_db @ weight
            better = (score > score_db[:, here]) | (rate == rates[0])
            score_db[:, here] = np.where(better, score, score_db[:, here])
            rate_per_s[:, here] = np.where(better, np.float32(rate), rate_per_s[:, here])
        lowest_rpm = highest_rpm
    return SweptScores(time_s=time_s, score_db=score_db, rate_per_s=rate_per_s)


def levels_along(
    copy: WorkingCopy,
    time_s: FloatArray,
    rpm: FloatArray,
    rate_per_s: FloatArray,
    orders: FloatArray,
) -> Levels:
    """Level at each order, against the lines around it [shape=(n_frames, n_orders)].

    NaN where an order lies above :data:`HIGHEST_HZ`. The window is twice as long as for the scores,
    so that lines half as far apart, as of half the speed, are parted too. All frames must lie
    within one chunk.
    """
    out = np.full((time_s.size, orders.size), np.nan, dtype=np.float32)
    if time_s.size == 0:
        return out
    heard = _Heard.around(copy, time_s)
    lowest_rpm = 0.0
    for window_s, _, highest_rpm in _WINDOWS:
        frames = np.flatnonzero((rpm / 2.0 >= lowest_rpm) & (rpm / 2.0 < highest_rpm))
        lowest_rpm = highest_rpm
        if frames.size == 0:
            continue
        level_db, spacing_hz = heard.levels(time_s[frames], rate_per_s[frames], window_s)
        position = orders * rpm[frames, np.newaxis] / 60.0 / spacing_hz
        inside = position < level_db.shape[1] - 1
        between = between_lines(level_db, np.where(inside, position, 0.0))
        out[frames] = np.where(inside, between, np.nan)
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heard:
    """Some seconds of sound at twice the rate, between whose samples straight lines will do."""

    samples: NDArray[np.float32]
    start_s: float
    rate_hz: float

    @classmethod
    def around(cls, copy: WorkingCopy, time_s: FloatArray) -> "_Heard":
        first = int((time_s[0] - _MARGIN_S) * copy.sample_rate_hz)
        last = int((time_s[-1] + _MARGIN_S) * copy.sample_rate_hz)
        return cls(
            samples=doubled(copy.read(first, last - first)),
            start_s=first / copy.sample_rate_hz,
            rate_hz=2.0 * copy.sample_rate_hz,
        )

    def levels(
        self, time_s: FloatArray, rate_per_s: FloatArray, window_s: float
    ) -> tuple[Levels, float]:
        """Level of each line [shape=(n_frames, n_lines)] and their spacing in Hz."""
        rate_hz = 0.5 * self.rate_hz
        size = int(window_s * rate_hz)
        # a quarter longer: a line between two points of the spectrum then loses less
        fft_size = next_fast_len(size + size // 4, real=True)
        lines = min(int(HIGHEST_HZ / rate_hz * fft_size) + 2, fft_size // 2 + 1)
        turned_s = (np.arange(size, dtype=np.float64) - 0.5 * (size - 1)) / rate_hz
        # a faster climb would turn the engine backwards within the window
        steepest = 0.8 / window_s
        climb = np.clip(rate_per_s, -steepest, steepest)[:, np.newaxis]
        window = np.hanning(size).astype(np.float32)
        level_db = np.empty((time_s.size, lines), dtype=np.float32)
        at_once = max(1, _AT_ONCE // size)
        for first in range(0, time_s.size, at_once):
            here = slice(first, first + at_once)
            frames = self._stretched(time_s[here, np.newaxis], climb[here], turned_s)
            chosen = np.arange(frames.shape[0])
            level_db[here] = frame_power(frames, chosen, window, fft_size=fft_size, lines=lines)
        into_db(level_db, 1e-12)
        spacing_hz = rate_hz / fft_size
        level_db -= uniform_filter1d(level_db, int(_AROUND_HZ / spacing_hz) | 1, mode="nearest")
        return np.clip(level_db, _SOFTEST_DB, _LOUDEST_DB), spacing_hz

    def _stretched(
        self, time_s: FloatArray, climb: FloatArray, turned_s: FloatArray
    ) -> NDArray[np.float32]:
        """Sound around each moment as if its climb were none [shape=(n_frames, n_samples)]."""
        # the time at which an engine that climbs at this rate has turned as far as one that does
        # not: t + climb t^2 / 2 = turned, by the form of the root that holds at no climb as well
        at_s = 2.0 * turned_s / (1.0 + np.sqrt(1.0 + 2.0 * climb * turned_s))
        position = (time_s - self.start_s + at_s) * self.rate_hz
        index = position.astype(np.int64)
        part = (position - index).astype(np.float32)
        return (1.0 - part) * self.samples.take(index) + part * self.samples.take(index + 1)


def doubled(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Give the sound at twice the rate, without loading the whole of scipy.signal for it."""
    out = np.empty(2 * samples.size, dtype=np.float32)
    out[::2] = samples
    padded = np.pad(samples, (_BESIDE - 1, _BESIDE))
    taps = _HALF_WAY.astype(np.float32)
    out[1::2] = sum(tap * padded[at : at + samples.size] for at, tap in enumerate(taps))
    return out
