"""How many pulses a turn of the crankshaft gives: what cannot be is struck out, the rest is heard.

What a pickup on a four-stroke engine gives depends on the ignition (common practice, no source):
half a pulse a turn on the lead of one plug, one where a plug also fires on the exhaust stroke
(wasted spark), half the number of cylinders on the lead from the coil to a distributor, half of
that again where there are two coils.

Two kinds of evidence are used. No engine idles below 450 rpm or stays above 9,500 (common
practice, no source). And with the number of cylinders known, the firing order and its multiples
stand out in the cabin sound: with the right number of pulses its strongest line is the firing
order. Where this does not leave exactly one possibility, none is taken: wrong by a factor of two
is worse than nothing.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import deque

from logger.sources.pulse.orders import OrderLines
from logger.sources.pulse.train import Pulse

# common practice, no source, as the top says: what engines idle and rev at, and what ignitions
# give. A clearer lead than 6 dB is judgement: less takes a loud half order for firing.
ANY_CYLINDERS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)  # pulses a turn
_SLOWEST_RPM, _SLOW_FOR = 450.0, 9  # stretches; a starter turns slower, but not for so long
_FASTEST_RPM, _FAST_FOR = 9_500.0, 2
_STRETCH_S = 1.0
_CLEAR_DB = 6.0


def possible_pulses(cylinders: int | None, turns_per_cycle: int) -> tuple[float, ...]:
    """Give the pulses a turn that occur in practice."""
    if cylinders is None:
        return ANY_CYLINDERS
    per_cycle = {1, cylinders}
    if turns_per_cycle == 2:
        per_cycle.add(2)  # wasted spark
    if cylinders % 2 == 0:
        per_cycle.add(cylinders // 2)
    return tuple(sorted(count / turns_per_cycle for count in per_cycle))


class RateLimits:
    """Slowest and fastest rate of pulses that lasted."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._first: Pulse | None = None
        self._last: deque[float] = deque(maxlen=_SLOW_FOR)  # pulses per minute
        self.slowest_per_min: float | None = None
        self.fastest_per_min: float | None = None

    def note(self, pulse: Pulse) -> None:
        """Take the next pulse."""
        if not pulse.is_sound:
            return
        first = self._first
        if first is None or first.train != pulse.train:
            self._first = pulse
            self._last.clear()
            return
        width_s = (pulse.frame - first.frame) / self._rate_hz
        if width_s < _STRETCH_S:
            return
        self._first = pulse
        self._last.append(60.0 * (pulse.number - first.number) / width_s)
        rates = list(self._last)
        if len(rates) == _SLOW_FOR:
            slowest = max(rates)
            self.slowest_per_min = min(slowest, self.slowest_per_min or slowest)
        if len(rates) >= _FAST_FOR:
            fastest = min(rates[-_FAST_FOR:])
            self.fastest_per_min = max(fastest, self.fastest_per_min or fastest)

    def allows(self, pulses_per_turn: float) -> bool:
        """Whether an engine can have run like that."""
        slowest, fastest = self.slowest_per_min, self.fastest_per_min
        if slowest is not None and slowest / pulses_per_turn < _SLOWEST_RPM:
            return False
        return fastest is None or fastest / pulses_per_turn <= _FASTEST_RPM


def choose_pulses(
    possible: tuple[float, ...],
    limits: RateLimits,
    lines: OrderLines | None,
    firing_order: float | None,
) -> float | None:
    """Give the pulses a turn when the evidence leaves one possibility, else None.

    ``firing_order`` is the number of firings a turn; None when the cylinders are not known.
    """
    left = tuple(each for each in possible if limits.allows(each))
    if len(left) == 1 and len(possible) > 1 and limits.slowest_per_min is not None:
        return left[0]
    if lines is None or firing_order is None or not lines.is_enough:
        return None
    heard = [each for each in possible if _is_firing(each, possible, lines, firing_order)]
    return heard[0] if len(heard) == 1 and heard[0] in left else None


def _is_firing(
    pulses: float, possible: tuple[float, ...], lines: OrderLines, firing_order: float
) -> bool:
    """Whether the line that would be the firing order stands out as only that one does.

    It must be clear of the floor, not much below its own double (else that one may be the firing
    order), and clear of what would be the firing order with more pulses a turn.
    """
    line = firing_order / pulses  # periods from pulse to pulse
    level_db = lines.prominence_db(line)
    if level_db is None or level_db < _CLEAR_DB:
        return False
    double_db = lines.prominence_db(2.0 * line)
    if double_db is not None and double_db > level_db + 0.5 * _CLEAR_DB:
        return False
    for other in possible:
        other_line = firing_order / other
        if other_line == line or (other_line / line).is_integer():
            continue
        other_db = lines.prominence_db(other_line)
        if other_db is None or other_db > level_db - _CLEAR_DB:
            return False
    return True
