"""Jumps of rpm that no engine makes: a digit lost or damaged between two sane readings."""
# SPDX-License-Identifier: GPL-2.0-or-later

# judgement: a damaged digit makes a jump of 1,000 or more, an engine none so fast; smaller limits
# hold back a free rev for one reading.
_FASTEST_RPM_PER_S = 15_000.0
_LEAST_RPM = 300.0  # jitter of slow logs is less
_MOST_RPM = 1_000.0  # however long the pause: a digit lost or damaged makes a greater jump
# judgement: a digit lost or printed twice takes away or adds nearly half at least, and then the
# number has another length; an engine changes so much in one reading only when it stalls or is cut.
_DIGIT_PART = 0.45
_SLOWEST_RPM = 500.0  # judgement: slower than any warm idle; one that starts or stalls is told late
# judgement: so many readings in a row must say so then. Of a line that loses 7 of 100 characters a
# third of the readings is damaged, and two or three in a row often are; a stall is told 0.4 s late.
_DIGIT_READINGS = 5


class RpmWatch:
    """Believes an rpm that the engine could have reached since the last one.

    A jump is held back once; when the next value confirms it, or goes on the same way as a free
    rev does, that one is believed. A jump that looks like a lost digit must be confirmed by
    several, where rpm is ``printed`` in digits.
    """

    def __init__(self, *, printed: bool = False) -> None:
        self._printed = printed
        self._last: tuple[float, float] | None = None
        self._doubted: tuple[float, float] | None = None
        self._believed_row = 0
        self._digit_row = 0

    def believes(self, rpm: float, at_s: float) -> bool:
        """Take note of a reading and say whether to keep it."""
        if self._last is None or self._is_near(self._last, rpm, at_s):
            self._last, self._doubted = (rpm, at_s), None
            self._believed_row, self._digit_row = self._believed_row + 1, 0
            return True
        is_settled = self._printed and self._believed_row >= _DIGIT_READINGS
        is_digit = is_settled and _may_be_a_digit(self._last[0], rpm)
        is_again = self._doubted is not None and self._is_near(self._doubted, rpm, at_s)
        self._digit_row = (self._digit_row if is_again else 0) + is_digit
        if self._confirms(rpm, at_s) and not 0 < self._digit_row < _DIGIT_READINGS:
            self._last, self._doubted = (rpm, at_s), None
            self._believed_row = self._digit_row = 0
            return True
        self._doubted = (rpm, at_s)
        return False

    def _confirms(self, rpm: float, at_s: float) -> bool:
        if self._last is None or self._doubted is None:
            return False
        if self._is_near(self._doubted, rpm, at_s):
            return True
        goes_on = (rpm > self._doubted[0]) == (self._doubted[0] > self._last[0])
        return goes_on and abs(rpm - self._doubted[0]) <= _reach_rpm(at_s - self._doubted[1])

    def _is_near(self, before: tuple[float, float], rpm: float, at_s: float) -> bool:
        before_rpm, before_s = before
        is_in_reach = abs(rpm - before_rpm) <= min(_MOST_RPM, _reach_rpm(at_s - before_s))
        return is_in_reach and not (self._printed and _may_be_a_digit(before_rpm, rpm))


def _may_be_a_digit(before_rpm: float, rpm: float) -> bool:
    """Whether the second may be the first with a digit lost or doubled."""
    is_odd = len(f"{before_rpm:.0f}") != len(f"{rpm:.0f}") or rpm < _SLOWEST_RPM
    return is_odd and abs(before_rpm - rpm) > _DIGIT_PART * max(before_rpm, rpm)


def _reach_rpm(pause_s: float) -> float:
    return _LEAST_RPM + _FASTEST_RPM_PER_S * pause_s
