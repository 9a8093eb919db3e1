"""All that the doubts about a drive with sound are drawn from."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import pandas as pd

from analysis.drive import Engine
from analysis.find.curves.driven import Driven
from analysis.find.sound.automatic_gain import AutomaticGain
from analysis.find.sound.hearing import Heard
from analysis.find.sound.other_tones import OtherTones
from analysis.find.sound.tail_sound import NO_TAIL, AtTail
from analysis.find.speed.known_speed import KnownSpeed
from analysis.findings import Climb, DroneBand


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What the stages before gave; ``driven`` at the moments of ``heard.frames``.

    ``engine`` is what was said of it.
    ``log_ratio`` is what the logged engine speed must be multiplied by; None where it is right.
    ``climbs`` are levels that climb on to an end of what was driven, the loudest first.
    ``gain`` says whether the recorder changed its own; the bands are then those with it undone.
    """

    telemetry: pd.DataFrame
    speed: KnownSpeed
    heard: Heard
    gain: AutomaticGain
    tones: OtherTones
    driven: Driven
    bands: tuple[DroneBand, ...]
    at_tail: AtTail = NO_TAIL
    climbs: tuple[Climb, ...] = ()
    log_ratio: float | None = None
    engine: Engine | None = None
