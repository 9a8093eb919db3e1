"""Tell whether a band follows the engine or road speed.

A band found in the whole drive is looked for again gear by gear. If it stands at the same engine
speed in two gears or more, or in one gear and with the car at a standstill, the engine makes it.
If it stands in one gear and is gone from another that drove through the same engine speeds, it
belonged to a road speed. A standstill without it says nothing: there the engine has no load.
With one gear alone the two cannot be told apart (common practice, no source), unless the car also
went as fast with the engine elsewhere (:mod:`analysis.find.bands.coasting`).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.findings import GearView, LockedTo

# Share of the fitted rise (in dB) that a gear shows. judgement: between them nothing is said of
# what the band follows; 20 % more moved nothing.
_PRESENT, _ABSENT = 0.75, 0.35


def is_present(view: GearView) -> bool:
    """Whether a gear shows the band."""
    return view.share_of_rise >= _PRESENT


def locked_to(views: Sequence[GearView]) -> LockedTo:
    """Compare how much of the band's rise each gear shows."""
    moving = [view.share_of_rise for view in views if view.gear >= 0]
    if not any(share >= _PRESENT for share in moving):
        return LockedTo.UNKNOWN
    present = sum(share >= _PRESENT for share in moving)
    standing = [view.share_of_rise for view in views if view.is_standing]
    coasting = [view.share_of_rise for view in views if view.is_coasting]
    for_engine = [
        present >= 2 and min(moving) > _ABSENT,
        any(share >= _PRESENT for share in standing),
        any(share <= _ABSENT for share in coasting),
    ]
    for_road = [min(moving) < _ABSENT, any(share >= _PRESENT for share in coasting)]
    if any(for_engine) == any(for_road):
        return LockedTo.UNKNOWN
    if any(for_engine):
        return LockedTo.ENGINE if min(moving) > _ABSENT else LockedTo.UNKNOWN
    return LockedTo.ROAD
