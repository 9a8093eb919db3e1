"""Doubts about engine speed and engine: worked out, not lined up, or not those that are heard."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.drive import Engine
from analysis.find.doubts.evidence import Evidence
from analysis.find.sound.order_tracking import ORDERS, OrderFrames
from analysis.findings import Doubt
from analysis.words.quantities import rpm

# what nearly all cars with a drone to cure have (common practice, no source); only these are named
_USUAL = tuple(Engine(cylinders=number) for number in (3, 4, 5, 6, 8))
# one bank of a cross-plane V8 has orders 1.5 and 2.5 loud (common practice, no source)
_BANK_OF_EIGHT, _LIKE_IT = Engine(cylinders=8), Engine(cylinders=3)
# judgement: how far a firing order stands out of the half orders beside it. Only a question: of 37
# generated drives and 12 recorded ones none asks it of the right number; of a wrong one 7 in 10 do,
# where its firing order is no multiple of the true one
_STANDS_DB, _SECOND_STANDS_DB, _HIDDEN_DB = 5.0, 3.0, 4.0
_LEAST_SHARE = 1e-9  # a definition: nothing, with a logarithm


def rpm_from_sound(evidence: Evidence) -> Doubt | None:
    """Say so when no engine speed was logged."""
    speed = evidence.speed
    if not speed.is_from_sound:
        return None
    percent = f"{100.0 * speed.track.known_s / speed.duration_s:.0f}"
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
    if evidence.speed.delay is not None:
        return None
    if evidence.speed.is_from_sound:
        return _road_speed_unaligned(evidence)
    return Doubt(
        code="telemetry_unaligned",
        may_hide=True,
        message=(
            "The sound does not show how late the engine speed was logged, so it was taken as on "
            "time: frequencies can be off by several percent and bands too wide. Drive slow "
            "sweeps through the drone, up and down, and log again."
        ),
    )


def _road_speed_unaligned(evidence: Evidence) -> Doubt | None:
    if not np.isfinite(evidence.driven.road_speed_m_s).any():
        return None
    return Doubt(
        code="telemetry_unaligned",
        message=(
            "The sound does not show how late the road speed was logged, so it was taken as on "
            "time, and gears can be told wrong. Drive slow sweeps in each gear, up and down, and "
            "log again."
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


def other_cylinders(evidence: Evidence) -> Doubt | None:
    """Ask whether the number of cylinders is right, where another firing order is heard.

    An order and its double that stand out of those beside them are fired; half orders of unlike
    cylinders are not. One engine's firing order may be a multiple of the other's: nothing is asked.
    """
    engine = evidence.engine
    if engine is None or engine.stroke_cycle != 4 or engine.cylinders < _USUAL[0].cylinders:
        return None
    if evidence.speed.is_from_sound or evidence.log_ratio is not None:
        return None
    stands_db = dict(zip(ORDERS.tolist(), _over_neighbours_db(evidence.heard.frames), strict=True))
    heard = [
        each
        for each in _USUAL
        if stands_db[each.firing_order] > _STANDS_DB
        and stands_db[2.0 * each.firing_order] > _SECOND_STANDS_DB
        and (engine, each) != (_BANK_OF_EIGHT, _LIKE_IT)
    ]
    if not heard or stands_db[engine.firing_order] > _HIDDEN_DB:
        return None
    likely = max(heard, key=lambda each: stands_db[each.firing_order])
    order, number = likely.firing_order, likely.cylinders
    return Doubt(
        code="other_cylinders",
        message=(
            f"Does the engine have {engine.cylinders} cylinders? Then order "
            f"{engine.firing_order:g} would stand out, but orders {order:g} and {2.0 * order:g} "
            f"do, as with {number}. If the number is wrong, import again with --cylinders {number}."
        ),
    )


def _over_neighbours_db(frames: OrderFrames) -> FloatArray:
    """How far the mean share of each of ``ORDERS`` in a moment's sound is over those beside it."""
    # in place: this is where a drive of hours takes most memory
    share = frames.total_ms - frames.background_ms
    np.maximum(share, 0.0, out=share)
    share /= np.maximum(share.sum(axis=1, keepdims=True), _LEAST_SHARE)
    level_db = 10.0 * np.log10(share.mean(axis=0, dtype=np.float64) + _LEAST_SHARE)
    beside_db = np.convolve(level_db, [0.5, 0.0, 0.5], mode="same")
    over_db = level_db - beside_db
    over_db[[0, -1]] = 0.0  # one neighbour tells nothing
    return np.asarray(over_db)
