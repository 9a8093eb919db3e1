"""What branches should do to each drone: in words for terminal, page and sheets."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Prediction, Sizing
from analysis.words.places import thumb_odds
from analysis.words.quantities import UNHEARD_DB, decibel, quieter
from analysis.words.quantities import rpm as in_rpm
from analysis.words.sentences import listed, lowered


def foretold(predicted: Prediction) -> str:
    """E.g. 'about 14 dB quieter (6.5 dB at worst, 18.0 dB at best)'."""
    span = predicted.level_change_db_range
    worst = decibel(-span.high, 1) if span.high < 0.0 else f"{decibel(span.high, 1)} louder"
    if span.high == 0.0:
        worst = "unchanged"
    best = f"{decibel(-span.low, 1)} at best"
    return f"about {quieter(predicted.level_change_db)} ({worst} at worst, {best})"


def foretold_all(sizing: Sizing) -> str:
    """As :func:`foretold`; of several drones planned for each, with its engine speed."""
    planned = (True, *(other.is_planned_for for other in sizing.others))
    rows = [row for row, is_told in zip(foretold_rows(sizing), planned, strict=True) if is_told]
    if len(rows) == 1:
        return rows[0][1]
    return listed([f"{told} {lowered(at)}" for at, told in rows])


def best_found(sizing: Sizing) -> str:
    """Say what the best branches would do where none is to be cut, or that nothing helps."""
    others = [each.predicted for each in sizing.others if each.is_planned_for]
    drones = drones_planned_for(sizing)
    if any(each.level_change_db <= -UNHEARD_DB for each in (sizing.predicted, *others)):
        return f"the best branches found would make {drones} {foretold_all(sizing)}"
    return f"nothing that was tried is likely to make {drones} quieter"


def drones_planned_for(sizing: Sizing) -> str:
    """Name them: 'the drone', 'the drone at 2,640 rpm' where another one is left, 'the drones'."""
    if any(other.is_planned_for for other in sizing.others):
        return "the drones"
    rpm = sizing.target.rpm(sizing.target.peak_hz)
    return f"the drone at {in_rpm(rpm)}" if sizing.others and rpm is not None else "the drone"


def drones_left(sizing: Sizing) -> str:
    """Say what the branches do to drones that they are not meant for; "" where there are none."""
    left = [
        f" At {in_rpm(rpm)} they are not meant to cure: {foretold(other.predicted)}."
        for other in sizing.others
        if not other.is_planned_for and (rpm := other.target.rpm(other.target.peak_hz)) is not None
    ]
    return "".join(left)


def foretold_rows(sizing: Sizing) -> list[tuple[str, str]]:
    """Label and words for each drone: 'Drone after', or 'At 2,250 rpm' where there are several."""
    each = (sizing.predicted, *(other.predicted for other in sizing.others))
    rows = []
    planned = (True, *(other.is_planned_for for other in sizing.others))
    for target, predicted, is_planned in zip(sizing.targets, each, planned, strict=True):
        rpm = target.rpm(target.peak_hz)
        at = "Drone after" if rpm is None or not sizing.others else f"At {in_rpm(rpm)}"
        told = foretold(predicted)
        if (thumb := sizing.by_thumb) is not None:
            ends = predicted.level_change_db_range
            span = f"{quieter(ends.low)} to {quieter(ends.high)} by the place"
            told = f"about {quieter(predicted.level_change_db)} ({span}); {thumb_odds(thumb)}"
        if not is_planned:
            told = f"not meant for it: {told}"
        rows.append((at, told))
    return rows
