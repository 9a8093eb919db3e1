"""Where along which pipe, and in what room, as a builder is told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.branches import ByThumb
from analysis.words.lengths import rough_length
from analysis.words.sentences import listed

TELL_THE_ROOM = "say in the car file how far out from the pipe there is room (beside, under [room])"


def measured_from(legs: Sequence[str]) -> str:
    """Say where a place is measured from; ``legs`` is empty where the exhaust is one pipe."""
    if not legs:
        return "from the collector"
    if len(legs) == 1:
        return f"from the start of the {legs[0]} pipe"
    return f"from the start of each pipe ({listed(list(legs))})"


def places_along(places: Sequence[tuple[str, Sequence[str]]]) -> str:
    """Put places together, each a length in words and the pipes it is on."""
    if len({tuple(legs) for _, legs in places}) == 1:
        return f"{listed([text for text, _ in places])} {measured_from(places[0][1])}"
    return listed([f"{text} {measured_from(legs)}" for text, legs in places])


def on_pipes(legs: Sequence[str]) -> str:
    """E.g. 'on each pipe', 'on the left pipe'."""
    return "on each pipe" if len(legs) > 1 else f"on the {legs[0]} pipe"


def one_on_each(legs: Sequence[str]) -> str:
    """Say which pipes get one: 'on the rear pipe', 'one on each pipe (left and right)'."""
    if len(legs) == 1:
        return on_pipes(legs)
    return f"one {on_pipes(legs)} ({listed(list(legs))})" if legs else ""


def thumb_place(by_thumb: ByThumb, number: int) -> str:
    """Say where the ``number``-th branch goes by the rule of thumb, in a card's few words."""
    far = rough_length(number * by_thumb.quarter_m)
    there = "" if number == 1 else ", if it is that long"
    return f"by rule of thumb: {far} upstream of the last large muffler{there}"


def thumb_odds(by_thumb: ByThumb) -> str:
    """Say what came of the rule of thumb."""
    return (
        f"of {by_thumb.cars} made-up cars built so {by_thumb.cured} were cured, and "
        f"{by_thumb.louder} got louder elsewhere"
    )
