"""Whether the logged engine speed is off by a factor: wrong pulses for each turn, wrong cylinders.

The orders then fall where no engine of that layout has them. The logged speed is judged as a
speed heard from the sound is: against what a half, two thirds, twice ... of it would explain.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.basics.rows import rows
from analysis.drive import NO_HINTS, Engine
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.line_profile import heard_lines
from analysis.find.speed.plausible_speed import log_plausibility
from analysis.find.speed.speed_path import HOP_S, HeardPath
from analysis.find.speed.swept_lines import CHUNK_S
from analysis.find.speed.telemetry_delay import measure_delay
from analysis.find.speed.which_reading import Reading, all_orders, readings

# judgement: what tells a wrong log. Of 14 right logs of road drives the next best speed came no
# nearer than 5.7 below the logged one; of 10 wrong ones the right one was 6.8 better at the least.
_CERTAIN = 5.0  # natural logarithm of odds, 150 to 1
_LEAST_EVIDENCE = 1.0
_FEW_CHUNKS, _MOST_CHUNKS = 3, 8  # judgement: of half a minute; the drives above told it in three
# judgement: logs are a second or two late. A wrong one may be lined up half a minute away, where it
# happens to fit; of 12 right logs of clocks 20 to 50 s apart none came on time at another ratio.
_FAR_S = 5.0
_USUAL_SLIPS = (0.5, 2.0 / 3.0, 1.5, 2.0)


def log_ratio(
    copy: WorkingCopy, track: SpeedTrack, engine: Engine, telemetry: pd.DataFrame
) -> float | None:
    """Give what the logged speed must be multiplied by; None where it is as right as any other.

    ``track`` is the logged speed, on the sound's clock.
    """
    time_s = np.arange(0.0, copy.duration_s, HOP_S)
    rpm = track.at(time_s)
    time_s, rpm = time_s[np.isfinite(rpm)], rpm[np.isfinite(rpm)]
    if rpm.size < 2:
        return None
    chunk = (time_s // CHUNK_S).astype(np.int64)
    whole = HeardPath(
        time_s=time_s,
        rpm=rpm,
        rate_per_s=np.gradient(np.log(rpm), time_s),
        # the log says so; whether it is right is the question
        is_sure=np.ones(rpm.size, dtype=np.bool_),
    )
    found: list[Reading] = []
    # a right log shows it soon: only where little of the drive does not settle it, more is asked
    for most in (_FEW_CHUNKS, _MOST_CHUNKS):
        path = rows(whole, chunk % (1 + chunk.max() // most) == 0)
        found = readings(
            path,
            heard_lines(copy, path, all_orders()),
            engine.firing_order,
            lambda scaled: log_plausibility(scaled, telemetry, NO_HINTS),
        )
        if found[0].ratio == 1.0 and found[0].log_odds - found[1].log_odds > _CERTAIN:
            return None
    best, as_logged = found[0], next(each for each in found if each.ratio == 1.0)
    if best.evidence < _LEAST_EVIDENCE or best.log_odds - as_logged.log_odds < _CERTAIN:
        return None
    return best.ratio


def ratio_on_time(copy: WorkingCopy, told: SpeedTrack, delay_s: float) -> float | None:
    """Give the ratio at which a log that seems far off in time is on time; None where none is.

    ``told`` is the log as it was told, ``delay_s`` how late it seems.
    """
    if abs(delay_s) < _FAR_S:
        return None
    for ratio in _USUAL_SLIPS:
        delay = measure_delay(copy, replace(told, rpm=ratio * told.rpm))
        if delay is not None and abs(delay.delay_s) < _FAR_S:
            return ratio
    return None
