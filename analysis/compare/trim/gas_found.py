"""The gas temperature that two drives found in a branch, as the car file takes it.

A branch at work is a thermometer (see :mod:`analysis.compare.trim.by_frequency`), but for one day
only: for the next day, and for a branch of another length, its reading is no better than any other
single value that ``size`` is given.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.basics.interval import Interval
from analysis.basics.units import ZERO_C_K
from analysis.exhaust.car_edit import KEY
from analysis.size.branch_gas import ONE_VALUE_SPREAD_K
from analysis.verdicts import Comparison, Verdict
from analysis.words.shown import either


def gas_found(comparison: Comparison) -> Interval | None:
    """Gas in the branches, K, good for the next branch; None when these drives tell nothing.

    With two branches it spans both: the car file knows one temperature.
    """
    verdicts = {change.verdict for change in comparison.changes}
    if not comparison.trims or verdicts <= {Verdict.CANNOT_TELL}:
        return None
    lowest_k, highest_k = [], []
    for trim in comparison.trims:
        gas_k, ends = trim.gas_temperature_k, trim.gas_temperature_ci95_k
        lowest_k.append(gas_k - math.hypot(gas_k - ends.low, ONE_VALUE_SPREAD_K))
        highest_k.append(gas_k + math.hypot(ends.high - gas_k, ONE_VALUE_SPREAD_K))
    return Interval(low=min(lowest_k), high=max(highest_k))


def car_file_value(gas_k: Interval) -> str:
    """Write it as a value of the car file, in whole degrees: '148..190 degC', '298..374 degF'."""
    unit = either("degC", "degF", "degC")
    low, high, coldest, hottest = (
        each_k - ZERO_C_K if unit == "degC" else 1.8 * (each_k - ZERO_C_K) + 32.0
        for each_k in (gas_k.low, gas_k.high, COLDEST_K, HOTTEST_K)
    )
    # rounded outwards, but not past the gas that is reckoned with
    low, high = max(math.floor(low), math.ceil(coldest)), min(math.ceil(high), math.floor(hottest))
    return f"{low}..{high} {unit}"


def car_file_lines(gas_k: Interval) -> str:
    """Write it as lines for the car file."""
    return f'[exhaust]\n{KEY} = "{car_file_value(gas_k)}"'
