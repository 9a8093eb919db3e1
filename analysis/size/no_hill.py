"""No hill at the tail: something behind the pipe makes the drone, so a check comes before the cut.

The cabin may lift what comes out of the pipe, and branches still that as well as any other drone:
of eight made-up cars whose cabin did, they cured all. What intake or body make they do not change.
One drive with both microphones cannot tell these apart, since all of them follow the engine.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

from analysis.basics.interval import Interval
from analysis.branches import Sizing
from analysis.find.at_tail import hill, said_of
from analysis.findings import Doubt, TailSound
from analysis.size.advice import (
    LOOK_FOR_ANOTHER_WAY,
    MAY_BE_OTHER_WAY,
    NO_HILL,
    OTHER_WAY,
    cases,
)
from analysis.words.plans import chosen_plan


def heeding_tail(sizing: Sizing, tail: TailSound | None) -> Sizing:
    """Take the promise out of a sizing, and say first what settles it, if the tail has no hill.

    The worse end of what is foretold becomes no change at all. What was guessed of another way past
    the tail goes: here it was heard.
    """
    seen = hill(sizing.target, tail)
    if seen is None or seen.is_the_pipes is not False:
        return sizing
    predicted = sizing.predicted
    foretold = predicted.level_change_db_range
    plan = chosen_plan(sizing.plans)
    cures = "can still that" if plan is None else f"cure that in {cases(plan.cured_now_share)}"
    doubt = Doubt(
        code=NO_HILL,
        message="Do not cut yet: find out first whether branches can do anything for this drone. "
        f"{' '.join(said_of(seen))} Drive it once more with a window open, and once with the "
        "microphone on another seat. Gone there, it is the cabin that lifts what the exhaust "
        f"sends out, and these branches {cures}. As loud everywhere, it comes from intake or "
        f"body, and no branch changes it: {LOOK_FOR_ANOTHER_WAY}, the intake's box and hoses "
        "tight.",
    )
    others = [each for each in sizing.warnings if each.code not in (OTHER_WAY, MAY_BE_OTHER_WAY)]
    return replace(
        sizing,
        predicted=replace(
            predicted,
            level_change_db_range=Interval(low=foretold.low, high=max(foretold.high, 0.0)),
        ),
        warnings=(doubt, *others),
    )
