"""Doubts about engine speed: worked out rather than logged, or not lined up with the sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.doubts.evidence import Evidence
from analysis.findings import Doubt
from analysis.words.quantities import rpm


def rpm_from_sound(evidence: Evidence) -> Doubt | None:
    """Say so when no engine speed was logged."""
    speed = evidence.speed
    if not speed.is_from_sound:
        return None
    percent = f"{100.0 * speed.known_s / speed.duration_s:.0f}"
    known = "" if percent == "100" else f", for {percent} % of the drive; the rest is left out"
    return Doubt(
        code="rpm_from_sound",
        message=(
            f"Engine speed was not logged, so it was worked out from the sound{known}. If the "
            "number of cylinders is wrong, every engine speed is wrong; check one that you "
            "remember."
        ),
    )


def telemetry_unaligned(evidence: Evidence) -> Doubt | None:
    """Say so when the sound does not show how late the log was."""
    if evidence.speed.is_from_sound or evidence.speed.delay is not None:
        return None
    return Doubt(
        code="telemetry_unaligned",
        may_hide=True,
        message=(
            "The sound does not show how late the engine speed was logged, so it was taken as on "
            "time: frequencies can be off by several percent and bands too wide. Drive slow "
            "sweeps through the drone, up and down, and log again."
        ),
    )


def wrong_log(evidence: Evidence) -> Doubt | None:
    """Say so when the orders fall where no engine has them, by which factor, and the cure."""
    ratio, track = evidence.log_ratio, evidence.speed.track
    if ratio is None:
        return None
    logged_rpm = float(np.nanmedian(track.rpm))
    at_s = float(track.time_s[np.nanargmin(np.abs(track.rpm - logged_rpm))])
    return Doubt(
        code="wrong_log",
        may_hide=True,
        message=(
            f"The log says {rpm(logged_rpm)} at {at_s:.0f} s, where the engine sounds like "
            f"{rpm(ratio * logged_rpm)}. Check the number of cylinders. If it is right, the logger "
            "was told a wrong number of pulses for each turn: put that right for the next drive, "
            f'and read this log again with import --rpm-unit "{ratio:.4g} rpm".'
        ),
    )
