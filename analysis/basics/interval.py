"""A value's 95 % interval, and how many standard deviations it reaches."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

SURE = 1.96  # standard deviations to either side: 95 % of a normal distribution, by definition


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A 95 % interval, both ends in the unit of the value it belongs to."""

    low: float
    high: float
