"""Numbers with their units, and names of orders, engines and gears."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.basics.units import INCH_M, ZERO_C_K
from analysis.drive import Engine
from analysis.findings import COASTING, STANDING
from analysis.words.shown import either

_FOOT_M = 12.0 * INCH_M  # by definition
UNHEARD_DB = 0.5  # a definition: less rounds to 0 dB
FULL_SCALE, SPL = "dB re full scale", "dB SPL"  # of a full-scale sine; re 20 uPa
_HARMONICS = {0.5: "half the firing order", 1.0: "firing", 2.0: "twice firing", 3.0: "3 x firing"}


def number(value: float, decimals: int = 0) -> str:
    """Write a number with thousands commas; 'not known' when not finite."""
    if not math.isfinite(value):
        return "not known"
    text = f"{value:,.{decimals}f}"
    # no minus before nothing: -0.04 dB is 0.0 dB
    return text.lstrip("-") if float(text.replace(",", "")) == 0.0 else text


def rpm(value: float) -> str:
    """Engine speed to 10 rpm: no drive supports more digits."""
    return f"{number(round(value, -1))} rpm"


def rpm_between(low: float, high: float) -> str:
    """Stretch of engine speed: '2,010 to 2,490 rpm'."""
    return f"{number(round(low, -1))} to {rpm(high)}"


def hertz(value: float) -> str:
    """Frequency; one decimal below 100 Hz."""
    return f"{number(value, 0 if value >= 100.0 else 1)} Hz"


def decibel(value: float, decimals: int = 0) -> str:
    """Level or level difference, without a plus sign."""
    return f"{number(value, decimals)} dB" if math.isfinite(value) else number(value)


def change(value_db: float, decimals: int = 1) -> str:
    """Level change with its sign."""
    sign = "+" if math.isfinite(value_db) and round(value_db, decimals) > 0 else ""
    return sign + decibel(value_db, decimals)


def quieter(change_db: float) -> str:
    """Level change in plain words: '14 dB quieter'."""
    return f"{decibel(abs(change_db))} {'louder' if change_db > 0 else 'quieter'}"


def quieter_between(low_db: float, high_db: float) -> str:
    """Interval of a level change: 'between 12.9 and 15.6 dB quieter'."""
    near, far = sorted((abs(low_db), abs(high_db)))
    if low_db < 0 < high_db:
        return f"between {decibel(-low_db, 1)} quieter and {decibel(high_db, 1)} louder"
    word = "louder" if low_db > 0 else "quieter"
    return f"between {number(near, 1)} and {decibel(far, 1)} {word}"


def temperature_both(temperature_k: float) -> str:
    """E.g. '140 °C (284 °F)'."""
    celsius = temperature_k - ZERO_C_K
    return either(f"{number(celsius)} °C", f"{number(1.8 * celsius + 32.0)} °F")


def temperature_step(kelvin: float) -> str:
    """Difference of two temperatures: '40 °C (72 °F)'."""
    return either(f"{number(kelvin)} °C", f"{number(1.8 * kelvin)} °F")


def gas_speed_between(low_m_s: float, high_m_s: float) -> str:
    """E.g. '9 to 25 m/s (30 to 82 ft/s)'."""
    low_ft, high_ft = low_m_s / _FOOT_M, high_m_s / _FOOT_M
    return either(f"{low_m_s:.0f} to {high_m_s:.0f} m/s", f"{low_ft:.0f} to {high_ft:.0f} ft/s")


def road_speed_both(speed_m_s: float) -> str:
    """E.g. '74 km/h, 46 mph'."""
    metric, miles = f"{3.6 * speed_m_s:.0f} km/h", f"{speed_m_s / 0.44704:.0f} mph"
    return either(metric, miles, f"{metric}, {miles}")


def seconds(duration_s: float) -> str:
    """E.g. '12 ms', '3.4 s', '12 min 5 s'."""
    if duration_s < 0.1:
        return f"{1000.0 * duration_s:.0f} ms" if duration_s > 0.0 else "0 s"
    return f"{duration_s:.1f} s" if duration_s < 99.95 else duration(duration_s)


def duration(duration_s: float) -> str:
    """Length of a drive: '48 s' or '12 min 5 s'."""
    minutes, rest = divmod(round(duration_s), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def engine_name(engine: Engine) -> str:
    """Cylinders and working cycle: '6 cylinders, 4-stroke'."""
    s = "" if engine.cylinders == 1 else "s"
    return f"{engine.cylinders} cylinder{s}, {engine.stroke_cycle}-stroke"


def gear_name(gear: int) -> str:
    """Letters, because the lowest gear that a drive shows need not be the car's first."""
    if gear == STANDING:
        return "the car standing"
    return "coasting" if gear == COASTING else f"gear {chr(ord('A') + gear)}"


def order_name(order: float, engine: Engine | None) -> str:
    """Order with its plain name: 'order 3 (firing)'."""
    if engine is not None and (name := _HARMONICS.get(order / engine.firing_order)):
        return f"order {order:g} ({name})"
    return f"order {order:g}"


def beats(order: float) -> str:
    """Say what an order is: '3 beats per turn of the crankshaft'."""
    return f"{order:g} beat{'' if order == 1.0 else 's'} per turn of the crankshaft"


def level_axis(unit: str) -> str:
    """Name what levels on an axis are in: of a recorder that is not calibrated, what 0 is."""
    return "dB, 0 is the recorder's limit" if unit == FULL_SCALE else unit


def level_read(unit: str) -> str:
    """Name the same behind one level."""
    return "dB" if unit == FULL_SCALE else unit
