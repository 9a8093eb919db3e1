"""Doubts about stretches in which sound or engine speed is missing."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray
from analysis.basics.rpm_bins import bin_centre_rpm, bin_of
from analysis.find.doubts.evidence import Evidence
from analysis.find.sound.gaps import SoundGaps
from analysis.find.sound.speed_track import SpeedTrack, gaps_between
from analysis.find.speed.known_speed import KnownSpeed
from analysis.findings import Doubt
from analysis.words.quantities import rpm, seconds

# judgement: only what is told of missing engine speeds.
_LATE_S = 3.0  # engine speed that begins or ends this far from an end of the sound is said
_WIDTH_BINS = 3  # of engine speed, 1 % each: the narrowest that could hide a drone
_BRIDGED_BINS = 2


def sound_gap(evidence: Evidence) -> Doubt | None:
    """Sound that was not recorded, and which engine speeds that leaves unheard."""
    gaps = evidence.heard.gaps
    if gaps.count == 0:
        return None
    unheard = _widest(_unheard_bins(gaps, evidence.speed.track, evidence.heard.frames.rpm))
    effect = (
        "Every engine speed driven during them was heard at another time as well."
        if unheard is None
        else f"Engine speeds from {rpm(unheard[0])} to {rpm(unheard[1])} were driven only "
        "during them: a drone there would be missed. Drive them again."
    )
    return Doubt(
        code="sound_gap",
        may_hide=unheard is not None,
        message=(
            f"No sound was recorded in {_stretches(gaps.count)}, {seconds(gaps.lost_s)} in all; "
            f"they are left out. {effect}"
        ),
    )


def telemetry_gap(evidence: Evidence) -> Doubt | None:
    """Engine speed that is missing within the drive, or at an end of the sound."""
    if evidence.speed.is_from_sound:
        return None
    missing = ", ".join(_missing(evidence.telemetry, evidence.speed))
    if not missing:
        return None
    return Doubt(
        code="telemetry_gap",
        message=f"Engine speed {missing}; the sound there is left out.",
    )


def _missing(telemetry: pd.DataFrame, speed: KnownSpeed) -> Iterator[str]:
    rows = telemetry[["time_s", "rpm"]].dropna()
    gaps = gaps_between(rows["time_s"].to_numpy(dtype=np.float64))
    if gaps:
        lost_s = sum(end - start for start, end in gaps)
        yield f"is missing in {_stretches(len(gaps))}, {seconds(lost_s)} in all"
    known_s = speed.track.time_s[np.isfinite(speed.track.rpm)]
    if known_s.size == 0:
        return
    if known_s[0] > _LATE_S:
        yield f"begins {seconds(float(known_s[0]))} after the sound"
    if speed.duration_s - known_s[-1] > _LATE_S:
        yield f"ends {seconds(speed.duration_s - float(known_s[-1]))} before it"


def _unheard_bins(gaps: SoundGaps, speed: SpeedTrack, heard_rpm: FloatArray) -> FloatArray:
    lost = gaps.touch(speed.time_s, speed.time_s) & np.isfinite(speed.rpm)
    return np.setdiff1d(bin_of(speed.rpm[lost]), bin_of(heard_rpm)).astype(np.float64)


def _widest(bins: FloatArray) -> tuple[float, float] | None:
    """Give the ends in rpm of the widest run of bins; None when none could hide a drone."""
    if bins.size == 0:
        return None
    runs = np.split(bins, np.flatnonzero(np.diff(bins) > _BRIDGED_BINS) + 1)
    run = max(runs, key=np.ptp)
    if run.size < _WIDTH_BINS:
        return None
    low, high = bin_centre_rpm(np.array([run[0], run[-1]], dtype=np.int64))
    return float(low), float(high)


def _stretches(count: int) -> str:
    return "1 stretch" if count == 1 else f"{count:,} stretches"
