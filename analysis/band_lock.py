"""Tell whether a band keeps step with the engine or with the road.

A band found in the whole drive is looked for again gear by gear. If it stands at the same engine
speed in two gears or more, or in one gear and with the car at a standstill, the engine makes it.
If it stands in one gear and is gone from another that drove through the same engine speeds, it
belonged to a road speed. A standstill without it says nothing: there the engine has no load.
With one gear alone the two cannot be told apart (common practice, no source).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence

from analysis.findings import GearView, LockedTo

_PRESENT, _ABSENT = 0.75, 0.35  # share of the fitted rise (in dB) that a gear shows


def locked_to(views: Sequence[GearView]) -> LockedTo:
    """Compare how much of the band's rise each gear shows."""
    moving = [view.share_of_rise for view in views if not view.is_standing]
    standing = [view.share_of_rise for view in views if view.is_standing]
    present = sum(share >= _PRESENT for share in moving)
    is_standing_too = any(share >= _PRESENT for share in standing)
    if not present:
        return LockedTo.UNKNOWN
    if min(moving) > _ABSENT:
        return LockedTo.ENGINE if present >= 2 or is_standing_too else LockedTo.UNKNOWN
    return LockedTo.UNKNOWN if is_standing_too else LockedTo.ROAD
