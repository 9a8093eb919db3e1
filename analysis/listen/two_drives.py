"""The drone before and after the work: ten seconds of each drive at the same engine speeds."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Sound
from analysis.findings import DroneBand, Findings
from analysis.listen.stretch import (
    RATE_HZ,
    WINDOW,
    Starts,
    alike_loud,
    starts_in,
    stretch_from,
)

# judgement: a baseline stretch this near to the drone, of the nearest, will do if the post-fix
# drive has one that is driven alike; less near, the drone is short in it.
_NEAR_ENOUGH = 0.85
_MOST_TRIED = 60  # judgement: baseline stretches; more only cost time
_TOO_FAR_APART = 0.10  # mean, of engine speed; judgement: then the ear compares two other things


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One drive's piece: samples [shape=(n_samples,)], from when, and between which speeds."""

    samples: FloatArray
    start_s: float
    rpm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class BothDrives:
    """Two pieces of sound on one scale, full scale 1.

    Attributes
    ----------
    rpm_apart : mean difference of their engine speeds from moment to moment, as a part
    gain_db : by so much the post-fix recording was louder as a whole; it is taken off here
    """

    baseline: Heard
    postfix: Heard
    rate_hz: float
    rpm_apart: float
    gain_db: float


def both_drives(
    drives: tuple[Drive, Drive],
    found: tuple[Findings, Findings],
    band: DroneBand,
    gain_db: float = 0.0,
) -> BothDrives | None:
    """Cut out the drone of the baseline, and the post-fix drive where it was driven most alike.

    Parameters
    ----------
    drives, found : baseline and post-fix
    band : the baseline's
    gain_db : what gain or microphone place added to every level of the post-fix drive

    None without sound, where levels were held by a recorder, or where the drives never ran through
    the drone alike.
    """
    before_s, after_s = (drive.sound for drive in drives)
    if before_s is None or after_s is None or any(each.level_was_held for each in found):
        return None
    before_rpm, after_rpm = (each.engine_speed for each in found)
    starts = starts_in(before_s, before_rpm, band), starts_in(after_s, after_rpm, band)
    pair = most_alike(*starts)
    if pair is None or pair[2] > _TOO_FAR_APART:
        return None
    first, second, apart = pair
    before = stretch_from(before_s, before_rpm, first)
    after = stretch_from(after_s, after_rpm, second)
    one, other = alike_loud(
        before.without_margins(before.samples),
        after.without_margins(after.samples) * _factor(before_s, after_s, gain_db),
    )
    return BothDrives(
        baseline=Heard(samples=one, start_s=before.start_s, rpm=before.rpm_ends),
        postfix=Heard(samples=other, start_s=after.start_s, rpm=after.rpm_ends),
        rate_hz=RATE_HZ,
        rpm_apart=apart,
        gain_db=gain_db,
    )


def most_alike(before: Starts, after: Starts) -> tuple[int, int, float] | None:
    """Pick a start in each drive so that engine speed runs most alike, and how far it is apart.

    None where one of them never drones.
    """
    if before.best is None or after.best is None:
        return None
    enough = np.flatnonzero(before.near >= _NEAR_ENOUGH * before.near[before.best])
    tried = enough[np.unique(np.linspace(0, enough.size - 1, _MOST_TRIED).round().astype(int))]
    may_start = np.flatnonzero(after.near >= 0.0)
    # as ratios: the ear compares pitches by them
    traces = np.log(sliding_window_view(after.rpm, WINDOW)[may_start])
    best = (int(before.best), int(after.best), np.inf)
    for first in map(int, tried):
        apart = np.abs(traces - np.log(before.rpm[first : first + WINDOW])).mean(axis=1)
        least = int(apart.argmin())
        if apart[least] < best[2]:
            best = (first, int(may_start[least]), float(apart[least]))
    return best


def _factor(before: Sound, after: Sound, gain_db: float) -> float:
    """Bring the post-fix drive onto the baseline's scale: pressure, where both are calibrated."""
    louder_db = gain_db
    if before.full_scale_db_spl is not None and after.full_scale_db_spl is not None:
        louder_db += before.full_scale_db_spl - after.full_scale_db_spl
    return float(10.0 ** (-louder_db / 20.0))
