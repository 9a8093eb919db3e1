"""Whether a drone's hill is at the tail as well: then the pipe makes it, else something behind it.

Gain and distance of the microphone there shift all of an order's level alike, so only the hill
counts: how far the level rises over what lies beside it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.branches import Target
from analysis.findings import DroneBand, TailSound

# judgement: where a band's surroundings are, over its peak and beyond its edges, over its width
_BESIDE, _CLEAR_OF_BAND = (0.7, 1.45), 0.25
# judgement: how much of the hill must be at the tail, or may be at most, for a verdict; between
# both the drive does not tell. Of 168 cars of ``tests/worlds`` it told 161, none of them wrongly.
_FROM_PIPE, _NOT_FROM_PIPE = 0.6, 0.35
_HIGHER = 1.5  # judgement: then something beside the exhaust fills up the cabin; only told
_LEAST_RISE_DB = 3.0  # judgement: noise has lower hills
_FEWEST = 3  # judgement: points inside, below and above
_LEAST_SIGMA = 0.05  # judgement: no point counts for all; moves no verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Hill:
    """How far an order rises over a band, in the cabin and at the tail."""

    cabin_db: float
    tail_db: float

    @property
    def tells(self) -> bool:
        """Whether both microphones tell it."""
        return self.is_the_pipes is not None

    @property
    def is_the_pipes(self) -> bool | None:
        """Whether the pipe makes it; None where both microphones do not tell."""
        part = self.tail_db / self.cabin_db
        if part >= _FROM_PIPE:
            return True
        return False if part <= _NOT_FROM_PIPE else None


def hill(drone: DroneBand | Target, tail: TailSound | None) -> Hill | None:
    """Measure a drone's hill with both microphones; None where it cannot be seen with both."""
    if tail is None:
        return None
    cabin_db = tail.tail_db + 20.0 * np.log10(np.abs(tail.ratio))
    both = [_rise_db(drone, tail, level_db) for level_db in (cabin_db, tail.tail_db)]
    if both[0] is None or both[1] is None or both[0] < _LEAST_RISE_DB:
        return None
    return Hill(cabin_db=both[0], tail_db=both[1])


def said_of(hill: Hill) -> Iterator[str]:
    """Say what it tells."""
    rises = "does not rise" if hill.tail_db < 0.5 else f"rises by {hill.tail_db:.0f} dB"
    begin = f"At the tail the same order {rises} there, in the cabin by {hill.cabin_db:.0f} dB"
    if hill.is_the_pipes is None:
        yield f"{begin}: that does not tell whether the exhaust makes it."
    elif not hill.is_the_pipes:
        yield (
            f"{begin}: what makes it loud is not the exhaust, but the cabin, the intake, or what "
            "shakes the body."
        )
    elif hill.tail_db > _HIGHER * hill.cabin_db:
        yield (
            f"{begin}: the exhaust makes it, and something beside it, through the body or from the "
            "intake, fills up the cabin. Sizing (pipenote size) tells how much, with a car file."
        )
    else:
        yield f"{begin}: it comes out of the exhaust."


def _rise_db(drone: DroneBand | Target, tail: TailSound, level_db: FloatArray) -> float | None:
    hz, weight = (
        tail.engine_order * tail.rpm / 60.0,
        1.0 / np.square(np.maximum(tail.sigma, _LEAST_SIGMA)),
    )
    inside = (hz >= drone.low_hz) & (hz <= drone.high_hz)
    off_hz = _CLEAR_OF_BAND * (drone.high_hz - drone.low_hz)
    below = (hz < drone.low_hz - off_hz) & (hz > _BESIDE[0] * drone.peak_hz)
    above = (hz > drone.high_hz + off_hz) & (hz < _BESIDE[1] * drone.peak_hz)
    parts = (inside, below, above)
    if min(part.sum() for part in parts) < _FEWEST:
        return None
    there, *beside = (float(np.average(level_db[part], weights=weight[part])) for part in parts)
    return there - 0.5 * sum(beside)
