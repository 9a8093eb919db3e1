"""Jumps of rpm that no engine makes: a digit lost or damaged between two sane readings."""
# SPDX-License-Identifier: GPL-2.0-or-later

# judgement: a damaged digit makes a jump of 1,000 or more, an engine none so fast; smaller limits
# hold back a free rev for one reading.
_FASTEST_RPM_PER_S = 15_000.0
_LEAST_RPM = 300.0  # jitter of slow logs is less
_MOST_RPM = 1_000.0  # however long the pause: a digit lost or damaged makes a greater jump


class RpmWatch:
    """Believes an rpm that the engine could have reached since the last one.

    A jump is held back once; when the next value confirms it, or goes on the same way as a free
    rev does, that one is believed.
    """

    def __init__(self) -> None:
        self._last: tuple[float, float] | None = None
        self._doubted: tuple[float, float] | None = None

    def believes(self, rpm: float, at_s: float) -> bool:
        """Take note of a reading and say whether to keep it."""
        if self._last is None or _is_near(self._last, rpm, at_s) or self._confirms(rpm, at_s):
            self._last, self._doubted = (rpm, at_s), None
            return True
        self._doubted = (rpm, at_s)
        return False

    def _confirms(self, rpm: float, at_s: float) -> bool:
        if self._last is None or self._doubted is None:
            return False
        if _is_near(self._doubted, rpm, at_s):
            return True
        goes_on = (rpm > self._doubted[0]) == (self._doubted[0] > self._last[0])
        return goes_on and abs(rpm - self._doubted[0]) <= _reach_rpm(at_s - self._doubted[1])


def _is_near(before: tuple[float, float], rpm: float, at_s: float) -> bool:
    before_rpm, before_s = before
    return abs(rpm - before_rpm) <= min(_MOST_RPM, _reach_rpm(at_s - before_s))


def _reach_rpm(pause_s: float) -> float:
    return _LEAST_RPM + _FASTEST_RPM_PER_S * pause_s
