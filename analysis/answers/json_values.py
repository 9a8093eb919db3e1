"""Numbers as JSON knows them; the results' documents are made of these."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.basics.interval import Interval

Json = bool | float | str | list["Json"] | dict[str, "Json"] | None


def number(value: float | None) -> float | None:
    """JSON knows neither NaN nor infinity; six digits are more than any result holds."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.6g}")


def interval(ends: Interval) -> list[Json]:
    """Low and high end; null for one that is not known."""
    return [number(ends.low), number(ends.high)]
