"""Why a branch does not go where it would take most off the drone, from the map of places."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np

from analysis.basics.cure import ELSEWHERE_DB
from analysis.branches import LinePicture
from analysis.words import quantities as words
from analysis.words.lengths import length
from analysis.words.places import measured_from

_CLEARLY_DB = 3.0  # judgement: less is no better place; it only chooses whether a line is told
_MUFFLER_TIMES = 1.5  # judgement: so much wider than the narrowest piece, it is told as a muffler


def why_not_there(line: LinePicture, chosen_m: Sequence[float]) -> str | None:
    """Say in one line why the best place for a single branch was not taken.

    ``chosen_m``: where branches go on this pipe, at least one. None where no place is clearly
    better, or where the map does not tell what speaks against it.
    """
    places = line.places
    near = [int(np.abs(places.position_m - at_m).argmin()) for at_m in chosen_m]
    here_db = float(places.drone_db[near].min())
    is_better = places.drone_db <= here_db - _CLEARLY_DB
    if not is_better.any():
        return None
    best = int(places.drone_db.min(axis=1).argmin())
    more = f"{_where(line, best)} one branch would take more off the drone, but"
    if not places.has_room[best]:
        return f"{more} the room given does not reach there."
    if (is_better[places.has_room] & (places.elsewhere_db[places.has_room] <= ELSEWHERE_DB)).any():
        return None
    least_db = float(places.elsewhere_db[best][is_better[best]].min())
    louder = f"another engine speed may get {words.decibel(least_db)} louder"
    return f"{more} at any length {louder}."


def _where(line: LinePicture, best: int) -> str:
    """E.g. 'Behind the muffler, 3.5 m from the collector,'."""
    at_m = float(line.places.position_m[best])
    place = f"{length(at_m)} {measured_from(line.legs)}"
    narrowest_m = min(section.inner_diameter_m for section in line.sections)
    wide = [s for s in line.sections if s.inner_diameter_m > _MUFFLER_TIMES * narrowest_m]
    if len(wide) != 1:
        return f"At {place}"
    return f"{'Behind' if at_m > wide[0].start_m else 'Before'} the muffler, {place},"
