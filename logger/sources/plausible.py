"""Values that no engine has: a bus that answers all ones, a spike between two sane readings."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

_RANGES = {  # below what an answer of all ones means (SAE J1979), above what cars do
    "rpm": (0.0, 16_000.0),
    "road_speed_m_s": (0.0, 70.8),
    "load_percent": (0.0, 100.0),
    "throttle_percent": (0.0, 100.0),
    "manifold_pressure_kpa": (0.0, 254.0),
    "coolant_temperature_degc": (-40.0, 214.0),
    "catalyst_temperature_degc": (-40.0, 1_500.0),
}
_FASTEST_RPM_PER_S = 15_000.0  # a free-revving engine; common practice, no source
_LEAST_RPM = 300.0


def is_in_range(quantity: str, value: float) -> bool:
    """Tell whether a car can have this value."""
    low, high = _RANGES[quantity]
    return low <= value <= high


class RpmWatch:
    """Believes an rpm that the engine could have reached since the last one.

    A jump is held back once; when the next value confirms it, that one is believed.
    """

    def __init__(self) -> None:
        self._last: tuple[float, float] | None = None
        self._doubted: tuple[float, float] | None = None

    def believes(self, rpm: float, at_s: float) -> bool:
        """Take note of a reading and say whether to keep it."""
        near = [_is_near(before, rpm, at_s) for before in (self._last, self._doubted) if before]
        if self._last is None or any(near):
            self._last, self._doubted = (rpm, at_s), None
            return True
        self._doubted = (rpm, at_s)
        return False


def _is_near(before: tuple[float, float], rpm: float, at_s: float) -> bool:
    before_rpm, before_s = before
    return abs(rpm - before_rpm) <= _LEAST_RPM + _FASTEST_RPM_PER_S * (at_s - before_s)
