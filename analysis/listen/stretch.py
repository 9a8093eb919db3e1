"""Ten seconds of a drive in which the drone is heard, cut out at a rate that is low but plays."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.drive import Sound
from analysis.findings import DroneBand, EngineSpeed

RATE_HZ = 8000.0  # judgement: every player takes it, and it holds all that a drone has
LENGTH_S = 10.0  # judgement: long enough to hear, short enough for a page
MARGIN_S = 0.5  # cut off again: filters swing in here
_LOUDEST = 0.7  # of full scale, so that no player clips; judgement: both pieces alike
_STEP_S = 0.1  # judgement: a stretch that begins a little earlier sounds the same
_NEAR = 0.2  # of engine speed; judgement: farther from the peak nothing is heard of the drone
_LEAST_IN_BAND_S = 1.0  # judgement: less is no drone to listen to


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Sound with the engine speed along it; arrays [shape=(n_samples,)]."""

    samples: FloatArray
    rpm: FloatArray
    start_s: float

    def without_margins(self, samples: FloatArray) -> FloatArray:
        """Cut off what filters swung in."""
        margin = round(MARGIN_S * RATE_HZ)
        return samples[margin:-margin]

    @property
    def rpm_ends(self) -> tuple[float, float]:
        """Lowest and highest engine speed, margins cut off."""
        rpm = self.without_margins(self.rpm)
        return float(rpm.min()), float(rpm.max())


def alike_loud(*pieces: FloatArray) -> tuple[FloatArray, ...]:
    """Give pieces on one scale, the loudest as loud as no player clips."""
    loudest = max(float(np.abs(each).max()) for each in pieces) or 1.0
    return tuple(_LOUDEST / loudest * each for each in pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class Starts:
    """Where a stretch may begin, every tenth of a second.

    ``rpm`` [shape=(n,)] is the engine speed along the drive, ``near`` [shape=(n_starts,)] for how
    long a stretch from there is how near to the drone, -1 where none may begin.
    """

    rpm: FloatArray
    near: FloatArray

    @property
    def best(self) -> int | None:
        """Where the engine is nearest to the drone's peak for longest; None for nowhere."""
        first = int(self.near.argmax()) if self.near.size else 0
        return first if self.near.size and self.near[first] >= 0.0 else None


WINDOW = round((LENGTH_S + 2.0 * MARGIN_S) / _STEP_S)  # steps of a stretch with its margins


def starts_in(sound: Sound, speed: EngineSpeed, band: DroneBand) -> Starts:
    """Look where the drone sounds for a second or more, and no sound or speed is lost."""
    grid_s = np.arange(0.0, sound.duration_s, _STEP_S)
    rpm = _rpm_at(speed, grid_s)
    if grid_s.size <= WINDOW:
        return Starts(rpm=rpm, near=np.empty(0))
    in_band = (rpm >= band.low_rpm) & (rpm <= band.high_rpm)
    nearness = np.clip(1.0 - np.abs(np.log(rpm / band.peak_rpm)) / _NEAR, 0.0, None)
    is_lost = ~np.isfinite(rpm)
    for start_s, end_s in sound.gaps_s:
        is_lost |= (grid_s > start_s - _STEP_S) & (grid_s < end_s + _STEP_S)
    near, steps_in_band, steps_lost = (
        np.convolve(np.nan_to_num(each.astype(np.float64)), np.ones(WINDOW), mode="valid")
        for each in (nearness, in_band, is_lost)
    )
    is_heard = (steps_lost < 0.5) & (steps_in_band * _STEP_S >= _LEAST_IN_BAND_S)
    return Starts(rpm=rpm, near=np.where(is_heard, near, -1.0))


def droning_stretch(sound: Sound, speed: EngineSpeed, band: DroneBand) -> Stretch | None:
    """Cut out the stretch in which the engine is nearest to the drone's peak for longest.

    None where it never is for a second, or where neither sound nor speed last that long.
    """
    first = starts_in(sound, speed, band).best
    return None if first is None else stretch_from(sound, speed, first)


def stretch_from(sound: Sound, speed: EngineSpeed, first: int) -> Stretch:
    """Cut out the stretch that begins at one of the starts, counted from 0."""
    start_s = _STEP_S * first
    samples = _cut(sound, start_s, LENGTH_S + 2.0 * MARGIN_S)
    time_s = start_s + np.arange(samples.size) / RATE_HZ
    return Stretch(samples=samples, rpm=_rpm_at(speed, time_s), start_s=start_s + MARGIN_S)


def _rpm_at(speed: EngineSpeed, time_s: FloatArray) -> FloatArray:
    """Straight lines between the points of the picture; NaN beyond them, and where they have it."""
    return np.asarray(np.interp(time_s, speed.time_s, speed.rpm, left=np.nan, right=np.nan))


def _cut(sound: Sound, start_s: float, length_s: float) -> FloatArray:
    """Read as far as the stretch goes, and no further."""
    first = round(start_s * sound.sample_rate_hz)
    last = first + round(length_s * sound.sample_rate_hz)
    parts: list[NDArray[np.float32]] = []
    done = 0
    for block in sound.read_blocks():
        begin, end = max(first - done, 0), min(last - done, block.size)
        if begin < end:
            parts.append(block[begin:end])
        done += block.size
        if done >= last:
            break
    # an odd rate has no short ratio; what this leaves out nobody hears
    ratio = Fraction(RATE_HZ / sound.sample_rate_hz).limit_denominator(1000)
    whole = np.concatenate(parts).astype(np.float64)
    from scipy.signal import resample_poly  # late: half a second, and few pages have sound

    return np.asarray(resample_poly(whole, ratio.numerator, ratio.denominator))
