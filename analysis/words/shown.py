"""In which units people read lengths, temperatures and speeds: both, unless one is asked for.

Hundreds of sentences name a length, and none of them should have to hand the wish on. So it holds
for a block of code and what that calls, and for nothing after it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum


class Units(StrEnum):
    """Which units are shown."""

    BOTH = "both"
    METRIC = "metric"
    INCH = "inch"


# as sentences are written: '10 mm (3/8 in)', '200 to 400 °C (390 to 750 °F)', '100 km/h (62 mph)'
_WRITTEN = re.compile(
    r"(?P<metric>(?:\d[\d.,]* to )?\d[\d.,]* (?:mm|m|°C|km/h|m/s)) "
    r"\((?P<inch>(?:\d[\d ./,]* to )?\d[\d ./,]* (?:in|°F|mph|ft/s))\)"
)
_SHOWN = ContextVar("units shown", default=Units.BOTH)


@contextmanager
def showing(units: Units) -> Iterator[None]:
    """Show these units while this block runs."""
    before = _SHOWN.set(units)
    try:
        yield
    finally:
        _SHOWN.reset(before)


def either(metric: str, inch: str, together: str = "") -> str:
    """Give what is to be shown of one quantity; of both, ``together``, or else 'metric (inch)'."""
    match _SHOWN.get():
        case Units.METRIC:
            return metric
        case Units.INCH:
            return inch
        case Units.BOTH:
            return together or f"{metric} ({inch})"


def as_shown(text: str) -> str:
    """Leave of quantities that a text has in both units, '10 mm (3/8 in)', what is to be shown."""
    return _WRITTEN.sub(lambda found: either(found["metric"], found["inch"], found[0]), text)
