"""Tell whether a band follows the engine or road speed.

A band found in the whole drive is looked for again gear by gear. If it stands at the same engine
speed in two gears or more, or in one gear and with the car at a standstill, the engine makes it.
If it stands in one gear and is gone from another that drove through the same engine speeds, it
belonged to a road speed. A standstill without it says nothing: there the engine has no load.
With one gear alone the two cannot be told apart (common practice, no source), unless the car also
went as fast with the engine elsewhere (:mod:`analysis.find.bands.coasting`).

An engine that shuts off half of its cylinders drones in one gear as if it were the road's. It does
so at light load, in a high gear, from about 1,400 to 2,400 rpm (common practice, no source). Then
it fires half as often, so half of its firing order is loud; in other gears all cylinders work and
it is gone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.drive import Engine
from analysis.findings import DroneBand, GearView, LockedTo

# Share of the fitted rise (in dB) that a gear shows. judgement: between them nothing is said of
# what the band follows; 20 % more moved nothing.
_PRESENT, _ABSENT = 0.75, 0.35
_RESTING_RPM = (1300.0, 2600.0)  # common practice, no source, with room to either side


def _is_present(view: GearView) -> bool:
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


def may_be_resting(band: DroneBand, engine: Engine | None) -> bool:
    """Whether half of the cylinders at rest would show a band just as this one shows.

    It stands at half of the firing order, in the highest gear that was driven through it and in no
    other, and is not heard when coasting.
    """
    if engine is None or band.engine_order != 0.5 * engine.firing_order:
        return False
    if not _RESTING_RPM[0] < band.peak_rpm < _RESTING_RPM[1]:
        return False
    moving = [view for view in band.by_gear if view.gear >= 0]
    shown = {view.gear for view in moving if _is_present(view)}
    coasting = any(view.is_coasting and _is_present(view) for view in band.by_gear)
    return bool(moving) and not coasting and shown == {max(view.gear for view in moving)}
