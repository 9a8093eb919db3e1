"""An engine that shuts off half of its cylinders: a drone in one gear that is not the road's.

It does so at light load, in a high gear, from about 1,400 to 2,400 rpm (common practice, no
source). Then it fires half as often, so half of its firing order is loud; in other gears all
cylinders work and it is gone, as if it belonged to a road speed.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.drive import Engine
from analysis.find.bands.lock import is_present
from analysis.findings import DroneBand

_RESTING_RPM = (1300.0, 2600.0)  # common practice, no source, with room to either side


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
    shown = {view.gear for view in moving if is_present(view)}
    coasting = any(view.is_coasting and is_present(view) for view in band.by_gear)
    return bool(moving) and not coasting and shown == {max(view.gear for view in moving)}
