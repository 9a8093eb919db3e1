"""What may be wrong with a microphone, from a few seconds of its sound.

All limits here are common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from logger.arrays import FloatArray

# common practice, no source, as the top says: these only decide what is told of a microphone.
FULL_SCALE = 0.999

# common practice, no source: how far hum must stand out to be told.
_SPECTRUM_S = 1.0  # a line each hertz
_MAINS_HZ = (50.0, 60.0)
_HARMONICS = np.arange(1, 7)
_MAINS_WITHIN_HZ = 1.5
_STANDS_OUT_DB = 12.0
_LEAST_HARMONICS = 2

# common practice, no source: what a clap shows of a gain that turns itself.
_FRAME_S = 0.05
_LOUD_DB = 15.0  # above the quiet before
_LEAST_LOUD_S = 0.25
_AFTER_S = (0.2, 1.2)  # a car's cabin, even a room, is still by then
_LATE_S = 1.0
_SINKS_DB = 4.0
_RISES_DB = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hum:
    """Mains frequency, and how far its strongest line stands out of the sound around it."""

    mains_hz: float
    over_db: float


class GainVerdict(StrEnum):
    """Whether something turns the gain up and down by itself."""

    SUSPECTED = "suspected"
    NOT_SEEN = "not seen"
    NOT_TESTED = "not tested"


def is_dead(samples: FloatArray) -> bool:
    """Whether all samples are the same: no microphone of this world is so quiet."""
    return samples.size == 0 or float(np.ptp(samples)) == 0.0


def clipped_count(samples: FloatArray) -> int:
    """Count the samples at full scale."""
    return int(np.count_nonzero(np.abs(samples) >= FULL_SCALE))


def find_hum(samples: FloatArray, sample_rate_hz: float) -> Hum | None:
    """Lines at multiples of the mains frequency that stand out, while none does half-way between.

    Half-way between: an engine that idles at 750 rpm has lines at 50, 100 and 150 Hz too, but at
    75 and 125 Hz as well.
    """
    found = [hum for mains in _MAINS_HZ if (hum := _hum_of(samples, sample_rate_hz, mains))]
    return max(found, key=lambda hum: hum.over_db, default=None)


def _hum_of(samples: FloatArray, sample_rate_hz: float, mains_hz: float) -> Hum | None:
    size = round(_SPECTRUM_S * sample_rate_hz)
    if samples.size < 2 * size or sample_rate_hz < 2.0 * mains_hz * (_HARMONICS[-1] + 1):
        return None
    frames = np.lib.stride_tricks.sliding_window_view(samples, size)[:: size // 2]
    # the median over time passes over a clap
    power = np.median(np.abs(np.fft.rfft(frames * np.hanning(size), axis=1)) ** 2, axis=0)

    def over_db(frequency_hz: float) -> float:
        """Compare the line with the sound within 20 Hz of it, itself left out."""
        line_hz = np.arange(power.size) / _SPECTRUM_S
        away_hz = np.abs(line_hz - frequency_hz)
        around = np.median(power[(away_hz > 4.0) & (away_hz < 20.0)])
        highest = power[away_hz <= _MAINS_WITHIN_HZ].max()
        return float(10.0 * np.log10(highest / around)) if around > 0.0 else 0.0

    at = np.array([over_db(mains_hz * k) for k in _HARMONICS])
    between = np.array([over_db(mains_hz * (k + 0.5)) for k in _HARMONICS])
    out = np.count_nonzero(at > _STANDS_OUT_DB)
    if out < _LEAST_HARMONICS or (between > _STANDS_OUT_DB).any():
        return None
    return Hum(mains_hz=mains_hz, over_db=float(at.max()))


def automatic_gain(samples: FloatArray, sample_rate_hz: float) -> GainVerdict:
    """Whether the noise floor sank after a loud sound and climbed again.

    A room is as quiet after a clap as before it. An automatic gain turns itself down during the
    loud sound and up again over some seconds. One that takes minutes is not seen.
    """
    begun = np.flatnonzero(samples)  # some sound systems give zeros at first
    level_db = _frame_levels_db(samples[begun[0] :] if begun.size else samples, sample_rate_hz)
    per_s = 1.0 / _FRAME_S
    quiet_db = float(np.median(level_db[: level_db.size // 3])) if level_db.size else 0.0
    loud = np.flatnonzero(level_db > quiet_db + _LOUD_DB)
    if loud.size < _LEAST_LOUD_S * per_s:
        return GainVerdict.NOT_TESTED
    first, last = int(loud[0]), int(loud[-1])
    before = level_db[:first]
    after = level_db[last + 1 + int(_AFTER_S[0] * per_s) : last + 1 + int(_AFTER_S[1] * per_s)]
    late = level_db[last + 1 + int(_AFTER_S[1] * per_s) :][-int(_LATE_S * per_s) :]
    if min(before.size, after.size, late.size) < 0.5 * _LATE_S * per_s:
        return GainVerdict.NOT_TESTED
    before_db, after_db, late_db = (float(np.median(part)) for part in (before, after, late))
    if before_db - after_db > _SINKS_DB and late_db - after_db > _RISES_DB:
        return GainVerdict.SUSPECTED
    return GainVerdict.NOT_SEEN


def _frame_levels_db(samples: FloatArray, sample_rate_hz: float) -> FloatArray:
    size = max(1, round(_FRAME_S * sample_rate_hz))
    frames = samples[: samples.size // size * size].reshape(-1, size)
    mean_square = np.mean((frames - samples.mean()) ** 2, axis=1) if frames.size else np.empty(0)
    return np.asarray(10.0 * np.log10(mean_square + 1e-14))
