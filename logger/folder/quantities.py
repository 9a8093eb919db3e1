"""What a session tells of car and microphone, in its units, and what they can have of each."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

QUANTITIES = (
    "rpm",
    "road_speed_m_s",
    "load_percent",
    "throttle_percent",
    "manifold_pressure_kpa",
    "coolant_temperature_degc",
    "catalyst_temperature_degc",
)
LEVEL_COLUMNS = ("level_a_db", "level_c_db", "level_z_db")
COLUMNS = ("time_s", *QUANTITIES, *LEVEL_COLUMNS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a quantity may be: from ``low`` to ``high``, and not ``all_ones``.

    ``all_ones`` is what a bus tells that answers all ones for want of a value, by the formulas of
    SAE J1979; NaN where it lies outside anyway, or is a value like any other.
    """

    low: float
    high: float
    all_ones: float = math.nan


# Wide on purpose, so that no value of any car is lost. Common practice, no source.
_LEVEL = Limits(low=-150.0, high=200.0)  # from the noise of 24 bits to beyond any microphone
LIMITS = {
    "rpm": Limits(low=0.0, high=20_000.0, all_ones=16_383.75),  # the fastest racing engines
    "road_speed_m_s": Limits(low=0.0, high=150.0, all_ones=255 / 3.6),  # 540 km/h: record cars
    "load_percent": Limits(low=0.0, high=100.5),  # full load, rounded up; all ones is 100
    "throttle_percent": Limits(low=0.0, high=100.5),
    "manifold_pressure_kpa": Limits(low=1.0, high=600.0, all_ones=255.0),  # absolute; 5 bar boost
    "coolant_temperature_degc": Limits(low=-50.0, high=160.0),  # any winter; all ones is 215
    "catalyst_temperature_degc": Limits(low=-50.0, high=1500.0),  # its ceramic melts about there
    "level_a_db": _LEVEL,
    "level_c_db": _LEVEL,
    "level_z_db": _LEVEL,
}


LATEST_S = 1e7  # judgement: 115 days, longer than any session; later is a slip, left out
# wider than any microphone; judgement: beyond it is a slip, refused
FULL_SCALE_DB_SPL = (40.0, 200.0)
LARGEST_RESPONSE_DB = 40.0  # more is no microphone, or not dB; judgement: refused, not used


def is_in_range(quantity: str, value: float) -> bool:
    """Tell whether a car can have this value of a quantity, a key of :data:`LIMITS`."""
    limits = LIMITS[quantity]
    return limits.low <= value <= limits.high and not math.isclose(value, limits.all_ones)
