"""Rpm between two pulses that lie whole working cycles apart.

A value is the mean over the crank angle between two pulses, and belongs to the middle between
them: nothing lags, and the values of a train add up to the turns that were made. Whole cycles
because the pulses of one cycle need not be evenly spaced, and at least a tenth of a second because
the ignition itself moves: one degree of jitter at both ends is 0.1 % of four turns. Shorter values
would be noise, longer ones would smooth a gear change. A spark that comes 20 degrees earlier at
light load than at full load makes rpm wrong while the load changes and only then, by 7 rpm when
that takes half a second.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from logger.sources.pulse.train import Pulse

# judgement, as the top says: jitter against gear changes. A jump of twice or three times within a
# third of a second is a pulse counted wrongly, which no engine does.
_LEAST_S = 0.1
_MOST_CYCLES = 2  # beyond both, too many pulses were missing or unsound
_MOST_S = 0.25
_JUMPS = (2.0, 3.0)
_JUMP_WIDTH = 0.05
_JUMP_WITHIN_S = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanRpm:
    """Mean rpm about ``frame``; ``width`` frames from the first pulse to the last of ``train``."""

    train: int
    rpm: float
    frame: float
    width: float


class RpmCounter:
    """Turns pulses into rpm.

    Parameters
    ----------
    pulses_per_turn : float
        Of the crankshaft.
    turns_per_cycle : int
        2 for a four-stroke engine.
    """

    def __init__(
        self, sample_rate_hz: int, *, pulses_per_turn: float, turns_per_cycle: int
    ) -> None:
        self._rate_hz = sample_rate_hz
        self._per_turn = pulses_per_turn
        self._per_cycle = max(1, round(pulses_per_turn * turns_per_cycle))
        self._first: Pulse | None = None

    def note(self, pulse: Pulse) -> MeanRpm | None:
        """Take the next pulse; give rpm when a measurement ends with it."""
        if not pulse.is_sound:
            return None
        first = self._first
        if first is None or first.train != pulse.train:
            self._first = pulse
            return None
        count, width = pulse.number - first.number, pulse.frame - first.frame
        if count > _MOST_CYCLES * self._per_cycle and width > _MOST_S * self._rate_hz:
            self._first = pulse
            return None
        if count % self._per_cycle or width < _LEAST_S * self._rate_hz:
            return None
        self._first = pulse
        return MeanRpm(
            train=pulse.train,
            rpm=60.0 * count / self._per_turn * self._rate_hz / width,
            frame=0.5 * (first.frame + pulse.frame),
            width=width,
        )


class JumpWatch:
    """Knows a train that begins at double or half the rpm at which the last one broke off.

    No engine does that between two pulses: the clip began to hear another lead as well, or to
    miss every second spark. Which of the two trains is right cannot be told from here; the one
    that was there first counts.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._trusted: MeanRpm | None = None
        self._doubted_train: int | None = None

    def trusts(self, mean: MeanRpm) -> bool:
        """Take the next rpm and say whether its train may be used."""
        last = self._trusted
        if mean.train == self._doubted_train:
            return False
        if last is not None and last.train != mean.train and self._is_jump(last, mean):
            self._doubted_train = mean.train
            return False
        self._trusted = mean
        return True

    def _is_jump(self, last: MeanRpm, mean: MeanRpm) -> bool:
        between = mean.frame - last.frame - 0.5 * (mean.width + last.width)
        if between > _JUMP_WITHIN_S * self._rate_hz + mean.width:
            return False
        ratio = max(mean.rpm / last.rpm, last.rpm / mean.rpm)
        return any(abs(ratio / jump - 1.0) < _JUMP_WIDTH for jump in _JUMPS)
