"""Doubts about how the drive was driven: too fast, too seldom, or in one gear."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.numbered import numbered
from analysis.basics.rpm_bins import bin_of
from analysis.find.curves.driven import Driven
from analysis.find.doubts.evidence import Evidence
from analysis.find.sound.order_tracking import HOP_S, ORDERS, OrderFrames
from analysis.findings import Climb, Doubt, DroneBand, LockedTo
from analysis.words.quantities import rpm
from analysis.words.sentences import listed

# of (f / Q)**2 per second: beyond it a peak moves by 0.2 of its width; judgement: that much is told
_SWEEP_LIMIT = 0.3
# judgement: one sweep cannot tell chance from drone, a second can; the change between two drives
# needs a third (``ENOUGH_PASSES`` in ``analysis/compare/doubts.py``)
_LEAST_PASSES = 2
_HEARD_DB = 12.0  # judgement: further below the loudest order nobody is troubled; only told
_AT_THE_END = 0.02  # judgement: of engine speed, as a share; only told
_MOST_NAMED = 3  # judgement: orders in one sentence; more are of one resonance


def sweep_too_fast(evidence: Evidence) -> Doubt | None:
    """ISO 7626-2 gives 0.9 (f/Q)**2 per second for the level; a peak's place needs 0.3 or less.

    The limit is quoted from memory; the factor comes from a simulation of a swept resonance.
    """
    driven = evidence.driven
    log_rate = _log_rate_per_s(driven)
    fast = (band for band in evidence.bands if _share_too_fast(band, driven, log_rate) > 0.5)
    band = next(fast, None)
    if band is None:
        return None
    limit = _SWEEP_LIMIT * _width_hz(band) ** 2 * 60.0 / band.engine_order
    return Doubt(
        code="sweep_too_fast",
        message=(
            f"The drone at {rpm(band.peak_rpm)} was driven through too quickly for its width: "
            "its peak can be off, and it looks wider than it is. Take it slower than "
            f"{rpm(limit)} per second, up and down."
        ),
    )


def few_passes(evidence: Evidence) -> Doubt | None:
    """Notice a drone that was driven through only once, unless another order met its resonance.

    Of 19 bands met once on 25 generated drives 18 had such a witness, and all were there.
    """
    often = [b for b in evidence.bands if _times_through(b, evidence.driven) >= _LEAST_PASSES]
    for band in evidence.bands:
        met = any(other.low_hz <= band.peak_hz <= other.high_hz for other in often)
        if band not in often and not met:
            return Doubt(
                code="few_passes",
                message=(
                    f"The drone at {rpm(band.peak_rpm)} was driven through only once, so "
                    "chance cannot be told from drone. Drive through it at least twice up and "
                    "twice down."
                ),
            )
    return None


def climbs_on(evidence: Evidence) -> Doubt | None:
    """Notice levels that climb on to an end of what was driven: nobody heard their top.

    Of 117 climbs on generated drives 19 were none: 10 beside music or a talker, whose notes climb
    too, and 4 in orders that nobody hears there. Of the 73 that are left 5 are none.
    """
    if evidence.tones.are_many:
        return None
    heard = [climb for climb in evidence.climbs if _is_heard(climb, evidence.heard.frames)]
    ends = [[climb for climb in heard if climb.is_fast is is_fast] for is_fast in (True, False)]
    said = [_still_climbing(climbs) for climbs in ends if climbs]
    if not said:
        return None
    return Doubt(
        code="climbs_on",
        may_hide=True,
        message=f"{' '.join(said)} There may be a drone that this drive only touched.",
    )


def _is_heard(climb: Climb, frames: OrderFrames) -> bool:
    """Whether the order is not far below the loudest at the engine speed to which it climbs."""
    near = np.abs(np.log(frames.rpm / climb.rpm)) < _AT_THE_END
    if not near.any():
        return True
    mean_ms = frames.total_ms[near].mean(axis=0)
    return bool(mean_ms[climb.engine_order == ORDERS] > mean_ms.max() * 10.0 ** (-_HEARD_DB / 10.0))


def _still_climbing(climbs: Sequence[Climb]) -> str:
    """Say it of climbs to one end, the loudest first."""
    loudest = climbs[0]
    orders = [f"{climb.engine_order:g}" for climb in climbs[:_MOST_NAMED]]
    one = len(orders) == 1
    what = f"Order {orders[0]} is" if one else f"Orders {listed(orders)} are"
    how, next_time = ("fastest", "faster") if loudest.is_fast else ("slowest", "more slowly")
    up = f"{loudest.climb_db:.0f} dB up on {rpm(loudest.from_rpm)}"
    return (
        f"{what} still climbing at {rpm(loudest.rpm)}, about the {how} you drove, "
        f"{up if one else f'the loudest {up}'}: drive a little {next_time}, where road and engine "
        f"allow it, to see {'its' if one else 'their'} top."
    )


def one_gear_only(evidence: Evidence) -> Doubt | None:
    """Notice a drive that cannot tell engine from road."""
    if all(band.locked_to is not LockedTo.UNKNOWN for band in evidence.bands):
        return None
    gear = evidence.driven.gear
    known = np.unique(gear[gear >= 0.0])
    if known.size >= 2:
        return None
    message = (
        "Only one gear was driven, so a drone of the engine cannot be told from one of tyres or "
        "driveline. Drive through the same engine speeds in a second gear."
        if known.size
        else "Without road speed the gears cannot be told apart, and so a drone of the engine "
        "cannot be told from one of tyres or driveline. Log road speed too, and drive two gears."
    )
    return Doubt(code="one_gear_only", message=message)


def _width_hz(band: DroneBand) -> float:
    return band.high_hz - band.low_hz


def _log_rate_per_s(driven: Driven) -> FloatArray:
    steps = np.maximum(np.diff(driven.time_s), HOP_S / 2)
    rate = np.abs(np.diff(np.log(driven.rpm))) / steps
    return np.append(rate, rate[-1:])


def _share_too_fast(band: DroneBand, driven: Driven, log_rate_per_s: FloatArray) -> float:
    inside = (driven.rpm > band.low_rpm) & (driven.rpm < band.high_rpm)
    if not inside.any():
        return 0.0
    sweep_hz_s = log_rate_per_s[inside] * band.peak_hz
    return float((sweep_hz_s > _SWEEP_LIMIT * _width_hz(band) ** 2).mean())


def _times_through(band: DroneBand, driven: Driven) -> float:
    """In how many passes a bin of the band was heard, as a median over its bins.

    A rest in the band, or a pass that a gap cuts in two, is no second time through.
    """
    inside = (driven.rpm > band.low_rpm) & (driven.rpm < band.high_rpm)
    bins, pass_index = bin_of(driven.rpm[inside]), driven.pass_index[inside]
    both = 1 + pass_index.max(initial=0)  # bin and pass as one number, which is sorted quickly
    passes = numbered(np.unique(bins * both + pass_index) // both).times
    return float(np.median(passes)) if passes.size else 0.0
