"""What all trims together would do, in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.verdicts import TrimOutlook

_HARDLY = 0.5  # share of the credible cases cured
_DOWN_DB, _UP_DB = -CURED_DB, ELSEWHERE_DB


def outlook_words(outlook: TrimOutlook) -> str:
    """Say what is gained by trimming, or why to leave the caps alone."""
    now = _state(outlook.now_db, outlook.elsewhere_now_db, outlook.cured_now_share)
    if not outlook.is_worth_it:
        return f"as built {now}; no trim would better that by much"
    then = _state(outlook.then_db, outlook.elsewhere_then_db, outlook.cured_then_share)
    ends = outlook.then_ci95_db
    said = f"as built {now}; trimmed {then}, 95 %: {ends.low:+.1f} to {ends.high:+.1f} dB"
    if outlook.cured_then_share >= _HARDLY:
        return said
    return (
        f"{said}; no length there surely cures it, so size again with the gas temperature that was "
        "found"
    )


def _state(drone_db: float, elsewhere_db: float, cured_share: float) -> str:
    elsewhere = f", elsewhere {elsewhere_db:+.1f} dB" if math.isfinite(elsewhere_db) else ""
    return (
        f"the drone's highest level changes by {drone_db:+.1f} dB{elsewhere} "
        f"({_DOWN_DB:.0f} dB down and nothing else {_UP_DB:.0f} dB up in "
        f"{100.0 * cured_share:.0f} of 100 credible cases)"
    )
