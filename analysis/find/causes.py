"""What makes each drone: bands of one resonance put together, the evidence, and what is open.

Every order that crosses a resonance shows a band at the same frequency, each at its own engine
speed: one cause, not many. Whether it follows the engine or road speed is judged in
:mod:`analysis.find.bands.lock`; here that evidence becomes words, with suspects by frequency and by
turns of the wheel, and what to drive next where the drive does not decide.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.drive import Engine
from analysis.find.at_tail import Hill, hill, said_of
from analysis.find.bands.lock import may_be_resting
from analysis.findings import (
    Cause,
    DroneBand,
    Findings,
    GearView,
    LoadClass,
    LoadView,
    LockedTo,
    OrderCurve,
)
from analysis.words.quantities import gear_name, road_speed_both, rpm
from analysis.words.sentences import listed

# Of the frequency; joint fits of several orders agree better than that. judgement: wider calls two
# resonances one cause, which is only told.
_ONE_RESONANCE = 0.03
_PRESENT = 0.5  # share of a band's rise that is called "shows"
_LOAD_MATTERS_DB = 2.0

# A tyre's air ring resonates at c / (2 pi r): 190 to 250 Hz (SAE 2009-01-2104, abstract).
_TYRE_CAVITY_HZ = (190.0, 250.0)
# First mode of a rigid box 2.2 to 3.2 m long, c / 2L, with room for panels that shift it;
# judgement: it only says that the cabin may help.
_CABIN_LENGTH_HZ = (50.0, 80.0)
# judgement: modes of a cabin along, across and in height; below, the air moves as one
_CABIN_HZ = (40.0, 160.0)
# judgement: how an order must pass a frequency before it says that nothing resonates there
_LEAST_PASSED = 3  # points inside the band and to either side
_NO_RISE_DB = 2.0
_CLEAR = 3.0  # total over background
_TYRE_ROUND_M = 1.95  # within about 8 % on any passenger car; common practice, no source
_WITH_A_SECOND_MICROPHONE = (
    "The cheapest way to tell the exhaust from all else: drive once more with a second microphone "
    "fixed behind the car: near the tailpipe, out of its gas, never held out by hand. Bring its "
    "sound in as that of a second recorder. What comes out of the pipe rises there as it does in "
    "the cabin. On simulated cars this gave the right answer in 19 of 20, and never a wrong one."
)
# Periods in one turn of the wheel, from and to; common practice, no source.
_BY_WHEEL_TURNS = (
    (0.8, 2.3, "wheels and tyres: balance, roundness, a flat spot"),
    (2.3, 5.3, "the propeller or drive shaft once a turn: its balance, a bent flange"),
    (5.3, 10.6, "the propeller shaft twice a turn: its joints and their angles"),
    (10.6, 200.0, "tyre tread, wheel bearings, or the teeth of the final drive"),
)


def causes(findings: Findings) -> tuple[Cause, ...]:
    """Causes of all bands, that of the worst band first."""
    heaps: list[list[int]] = []
    for number, band in enumerate(findings.bands, start=1):
        for heap in heaps:
            # with each of them: by its last alone, a chain of neighbours would become one cause
            if all(_go_together(findings.bands[other - 1], band) for other in heap):
                heap.append(number)
                break
        else:
            heaps.append([number])
    return tuple(_cause(findings, tuple(heap)) for heap in heaps)


def _go_together(one: DroneBand, other: DroneBand) -> bool:
    verdicts = {one.locked_to, other.locked_to} - {LockedTo.UNKNOWN}
    apart = abs(np.log(one.peak_hz / other.peak_hz))
    return len(verdicts) < 2 and bool(apart < _ONE_RESONANCE)


def _cause(findings: Findings, numbers: tuple[int, ...]) -> Cause:
    bands = [findings.bands[number - 1] for number in numbers]
    known = [band.locked_to for band in bands if band.locked_to is not LockedTo.UNKNOWN]
    locked_to = known[0] if known else LockedTo.UNKNOWN
    # what is said of gears is said of a band that shows it
    surest = next((band for band in bands if band.locked_to is locked_to), bands[0])
    frequency_hz = _common_hz(bands)
    at_tail = hill(bands[0], findings.at_tail(bands[0].engine_order))
    return Cause(
        frequency_hz=frequency_hz,
        bands=numbers,
        locked_to=locked_to,
        evidence=(
            *_one_resonance(bands, frequency_hz),
            *_follows(surest, locked_to),
            *_under_load(bands[0]),
            *(() if at_tail is None else said_of(at_tail)),
        ),
        suspects=(
            *_resting_cylinders(surest, locked_to, findings.engine),
            *_suspects(surest, locked_to, frequency_hz),
            *_resonance_or_source(findings, bands, locked_to, at_tail),
        ),
        to_decide=tuple(_to_decide(findings, surest, locked_to, at_tail)),
    )


def _common_hz(bands: Sequence[DroneBand]) -> float:
    """Mean of the peaks, each weighted by how well it is known."""
    if len(bands) == 1:
        return bands[0].peak_hz
    width_hz = np.array([band.peak_hz_ci95.high - band.peak_hz_ci95.low for band in bands])
    # a band without an interval counts little, and none is so sure that it counts alone
    weight = 1.0 / np.square(np.clip(np.nan_to_num(width_hz, nan=np.inf), 0.01, 100.0))
    return float(np.average([band.peak_hz for band in bands], weights=weight))


def _one_resonance(bands: Sequence[DroneBand], frequency_hz: float) -> Iterator[str]:
    if len(bands) < 2:
        return
    at = listed([f"order {band.engine_order:g} at {rpm(band.peak_rpm)}" for band in bands])
    yield (
        f"One resonance at {frequency_hz:.1f} Hz, not {len(bands)} drones: each order gets loud as "
        f"it crosses it ({at})."
    )


def _follows(band: DroneBand, locked_to: LockedTo) -> Iterator[str]:
    shown = [view for view in band.by_gear if view.share_of_rise >= _PRESENT]
    gone = [view for view in band.by_gear if view.share_of_rise < _PRESENT]
    at = rpm(band.peak_rpm)
    if locked_to is LockedTo.ENGINE:
        yield f"It stays at {at} {_in_gears(shown)}: it follows the engine."
        if any(view.is_coasting for view in gone):
            yield f"It is gone {_in_gears([view for view in gone if view.is_coasting])}."
        if any(view.is_standing for view in gone):
            yield (
                "With the car standing it is weaker or gone, but the engine has no load then, so "
                "that proves nothing."
            )
    elif locked_to is LockedTo.ROAD:
        away = [view for view in gone if view.gear >= 0]
        also = f" and gone at the same {at} {_in_gears(away)}" if away else ""
        yield f"It is there {_in_gears(shown)}{also}: it follows road speed."
    elif len(band.by_gear) > 1:
        parts = [
            f"{100.0 * np.clip(view.share_of_rise, 0.0, 1.0):.0f} % {_in_gears([view])}"
            for view in band.by_gear
        ]
        yield f"How much of its rise shows ({listed(parts)}) fits neither engine nor road."
    elif band.by_gear:
        yield f"It was driven through {_in_gears(band.by_gear)} only."


def _under_load(band: DroneBand) -> Iterator[str]:
    if len(band.by_load) < 2:
        return
    loud, quiet = band.by_load
    more_db = loud.level_db - quiet.level_db
    if more_db < _LOAD_MATTERS_DB:
        what = "Load" if loud.load_part is not None else "Throttle on or off"
        yield f"{what} makes little difference ({more_db:.1f} dB at the same engine speeds)."
        return
    yield (
        f"It is {more_db:.0f} dB louder {_load_words(loud)} than {_load_words(quiet)}, at the same "
        "engine speeds."
    )


def _load_words(view: LoadView) -> str:
    if view.load is LoadClass.CLIMBING:
        return "as the engine speeds up (on the throttle)"
    if view.load is LoadClass.FALLING:
        return "as it slows down (off the throttle)"
    part = "" if view.load_part is None else f" (about {100.0 * view.load_part:.0f} %)"
    return f"under {view.load.value}{part}"


def _suspects(band: DroneBand, locked_to: LockedTo, frequency_hz: float) -> Iterator[str]:
    if locked_to is not LockedTo.ENGINE:
        if _TYRE_CAVITY_HZ[0] <= frequency_hz <= _TYRE_CAVITY_HZ[1]:
            yield "The air in the tyres resonates at 190 to 250 Hz whatever the engine does."
        turns = _in_one_wheel_turn(band)
        if locked_to is LockedTo.ROAD and turns is not None:
            what = next((what for low, high, what in _BY_WHEEL_TURNS if low <= turns < high), None)
            if what is not None:
                yield (
                    f"It comes about {turns:.1f} times for each turn of the wheel (taken as "
                    f"{_TYRE_ROUND_M:g} m around): look at {what}."
                )
    else:
        yield (
            "Exhaust, intake and engine mounts all follow the engine. If the drone came with work "
            "on the exhaust, look there first."
        )
    if (
        _CABIN_LENGTH_HZ[0] <= frequency_hz <= _CABIN_LENGTH_HZ[1]
        and locked_to is not LockedTo.ROAD
    ):
        yield (
            "A cabin resonates along its length at 50 to 80 Hz, so another seat may be much "
            "quieter; keep the microphone in the same place for both drives."
        )


def _resting_cylinders(
    band: DroneBand, locked_to: LockedTo, engine: Engine | None
) -> Iterator[str]:
    if locked_to is LockedTo.UNKNOWN and may_be_resting(band, engine):
        yield (
            f"Order {band.engine_order:g} is half of the firing order. An engine that shuts off "
            "half of its cylinders at light load drones there in a high gear, and in no other."
        )


def _resonance_or_source(
    findings: Findings, bands: Sequence[DroneBand], locked_to: LockedTo, at_tail: Hill | None
) -> Iterator[str]:
    """Several orders at one frequency are a resonance; one alone says neither.

    Of 67 generated causes that several orders showed all were a resonance. Of 30 that one order
    showed where others passed as loud, 13 were one of exhaust or cabin all the same.
    """
    if locked_to is LockedTo.ROAD or findings.levels_only or (at_tail and at_tail.tells):
        return
    if len(bands) > 1:
        yield (
            "Orders that get loud at one frequency meet a resonance of exhaust, intake, cabin or "
            "body; one part of the engine alone would not do that. This drive does not tell which."
        )
        return
    order = f"Only order {bands[0].engine_order:g} gets loud there"
    passing = [
        f"{curve.engine_order:g}"
        for curve in findings.curves
        if curve.engine_order != bands[0].engine_order and _passes(curve, bands[0])
    ]
    if passing:
        order += (
            f", though order{'s' if len(passing) > 1 else ''} {listed(passing)} passed the same "
            "frequency as loud"
        )
    yield (
        f"{order}. That may be one source, such as intake, mounts or one bank, or a resonance of "
        "pipe or cabin that the other orders miss. This drive does not tell which."
    )


def _passes(curve: OrderCurve, band: DroneBand) -> bool:
    """Whether an order went through the band's frequency, about as loud as what is beside it."""
    hz = curve.engine_order * curve.rpm / 60.0
    known = np.isfinite(curve.fitted_db)
    inside = known & (hz > band.low_hz) & (hz < band.high_hz)
    width = band.high_hz - band.low_hz
    below = known & (hz < band.low_hz) & (hz > band.low_hz - width)
    above = known & (hz > band.high_hz) & (hz < band.high_hz + width)
    if min(inside.sum(), below.sum(), above.sum()) < _LEAST_PASSED:
        return False
    rise_db = curve.fitted_db[inside].max() - max(
        curve.fitted_db[below].min(), curve.fitted_db[above].min()
    )
    clear = np.median(curve.total_ms[inside] / curve.background_ms[inside].clip(1e-30))
    return bool(rise_db < _NO_RISE_DB and clear > _CLEAR)


def _in_one_wheel_turn(band: DroneBand) -> float | None:
    shown = [view for view in band.by_gear if view.share_of_rise >= _PRESENT]
    moving = [view.road_speed_m_s for view in shown if view.gear >= 0]
    return band.peak_hz * _TYRE_ROUND_M / moving[0] if moving else None


def _to_decide(
    findings: Findings, band: DroneBand, locked_to: LockedTo, at_tail: Hill | None
) -> Iterator[str]:
    span = f"{rpm(band.low_rpm)} to {rpm(band.high_rpm)}"
    if locked_to is LockedTo.ROAD:
        yield "Drive the same road speed in another gear: a drone that follows it is there again."
        return
    if locked_to is LockedTo.ENGINE:
        if at_tail and at_tail.is_the_pipes:
            return
        if at_tail is None:
            yield _WITH_A_SECOND_MICROPHONE
        if at_tail is None or not at_tail.tells:
            yield from _exhaust_or_else(span)
        if _CABIN_HZ[0] <= band.peak_hz <= _CABIN_HZ[1]:
            yield (
                "To see what the cabin does, drive it again with a window open, or with the "
                "microphone on another seat. A cabin's resonance changes there, but so may others."
            )
        return
    if may_be_resting(band, findings.engine):
        yield (
            f"Drive through {span} in the same gear once more, pulling or in a mode in which all "
            "cylinders work: if it is gone, it is the engine with half of its cylinders at rest."
        )
    if findings.levels_only:
        yield "Log sound and road speed: levels alone cannot tell what makes it."
        return
    moving = [view for view in band.by_gear if view.gear >= 0]
    if np.isnan(findings.engine_speed.gear_index).all():
        yield f"Log road speed too (OBD-II or GPS), and drive through {span} in two gears."
    elif len(moving) < 2:
        first = f" besides {gear_name(moving[0].gear)}" if moving else ""
        yield f"Drive slowly through {span} in a second gear{first}."
    else:
        yield f"Drive through {span} again in each gear, at the same throttle, up and down."
    speed = f" ({road_speed_both(moving[0].road_speed_m_s)})" if moving else ""
    yield (
        f"Where it is safe, coast at the road speed at which it drones{speed}, clutch down or in "
        "neutral with the engine idling: if it stays, look at tyres and driveline."
    )
    yield (
        f"With the car standing in the open, take the engine slowly through {span}: if it drones "
        "there too, the engine makes it; if it does not, that proves nothing."
    )


def _exhaust_or_else(span: str) -> Iterator[str]:
    """Say which recordings tell; how often is from ``tests/benchmarks/doubts``."""
    yield (
        "With one recorder only, put it outside near the tailpipe, car standing in the open, and "
        f"take the engine slowly through {span}: what the exhaust makes is loud there too; intake, "
        "mounts and cabin mostly not. On simulated cars this gave the right answer in "
        "about four of five."
    )
    yield (
        "As often right: record once just after a cold start and once hot. Hot gas carries sound "
        "faster, so a resonance of the exhaust climbs by several percent; those of cabin, intake "
        "and body stay."
    )


def _in_gears(views: Sequence[GearView]) -> str:
    moving = [
        f"{gear_name(view.gear)} ({road_speed_both(view.road_speed_m_s)})"
        for view in views
        if view.gear >= 0
    ]
    standing = ["with the car standing"] if any(view.is_standing for view in views) else []
    coasting = [
        f"when coasting at {road_speed_both(view.road_speed_m_s)}"
        for view in views
        if view.is_coasting
    ]
    return listed([*([f"in {listed(moving)}"] if moving else []), *standing, *coasting])
