"""What branches should do to each drone: in words for terminal, page and sheets."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Prediction, Sizing
from analysis.words.places import thumb_odds
from analysis.words.quantities import decibel, quieter
from analysis.words.quantities import rpm as in_rpm
from analysis.words.sentences import listed


def foretold(predicted: Prediction) -> str:
    """E.g. 'about 14 dB quieter (6.5 dB at worst, 18.0 dB at best)'."""
    span = predicted.level_change_db_range
    worst = decibel(-span.high, 1) if span.high < 0.0 else f"{decibel(span.high, 1)} louder"
    if span.high == 0.0:
        worst = "unchanged"
    best = f"{decibel(-span.low, 1)} at best"
    return f"about {quieter(predicted.level_change_db)} ({worst} at worst, {best})"


def foretold_all(sizing: Sizing) -> str:
    """As :func:`foretold`; of several drones each, with its engine speed."""
    first, *others = foretold_rows(sizing)
    if not others:
        return first[1]
    return listed([f"{told} {at[0].lower()}{at[1:]}" for at, told in (first, *others)])


def foretold_rows(sizing: Sizing) -> list[tuple[str, str]]:
    """Label and words for each drone: 'Drone after', or 'At 2,250 rpm' where there are several."""
    each = (sizing.predicted, *(other.predicted for other in sizing.others))
    rows = []
    for target, predicted in zip(sizing.targets, each, strict=True):
        rpm = target.rpm(target.peak_hz)
        at = "Drone after" if rpm is None or not sizing.others else f"At {in_rpm(rpm)}"
        told = foretold(predicted)
        if (thumb := sizing.by_thumb) is not None:
            ends = predicted.level_change_db_range
            span = f"{quieter(ends.low)} to {quieter(ends.high)} by the place"
            told = f"about {quieter(predicted.level_change_db)} ({span}); {thumb_odds(thumb)}"
        rows.append((at, told))
    return rows
