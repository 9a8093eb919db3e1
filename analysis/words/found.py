"""The first two sentences on a drive: what was found, and what to do before all else."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.findings import DroneBand, Findings, LockedTo
from analysis.words import quantities as words
from analysis.words.sentences import listed, lowered

_ROAD = (
    "It follows road speed, not the engine: look at tyres, wheel bearings and the driveline. No "
    "branch on the exhaust will help."
)
_UNKNOWN = "Whether it follows the engine or the road cannot be told from this drive."
_NO_DRONE = (
    "No branch is called for. If you do hear one, log a slow sweep through the speed where it is "
    "worst, in the gear where it is worst, at steady light throttle."
)
_NO_NUMBERS = "Numbers from it would be wrong, so none are shown. What to do is said below."
_NOT_SURE = "That is not certain: what may hide one, and what to do about it, is said below."
_MOST_NAMED = 3  # judgement: speeds in one sentence
# judgement: of a frequency, half the 95 % interval; branches can be cut as near. On roads engines
# differ so much from sweep to sweep that most drones are known less well
_AS_ONE_NUMBER = 0.01


def found_sentence(findings: Findings) -> str:
    """Say what was found, for a builder."""
    if findings.withheld:
        return f"No result can be given: {findings.withheld}."
    if not findings.bands:
        low, high = findings.driven_rpm
        return (
            f"No drone was found: between {words.rpm(low)} and {words.rpm(high)} no order of "
            "the engine stands out from its surroundings."
        )
    band = findings.bands[0]
    more = _others(findings)
    rpm, hertz = _peak(band)
    if findings.levels_only:
        return (
            f"{rpm} the cabin gets {words.decibel(band.rise_db)} louder than at the engine speeds "
            f"around it; taken as {words.order_name(band.engine_order, findings.engine)}, that is "
            f"a drone at {hertz}{more}."
        )
    return (
        f"{rpm} {_note(band, findings)} at {hertz} is {words.decibel(band.rise_db)} louder than "
        f"its surroundings{more}."
    )


def first_sentence(findings: Findings) -> str:
    """Say what to do before any branch is thought of; nothing where the engine makes the drone."""
    if findings.withheld:
        return _NO_NUMBERS
    if not findings.bands:
        return _NOT_SURE if may_hide_a_drone(findings) else _NO_DRONE
    worst = findings.bands[0]
    follows = findings.followed_by(worst)
    if follows is LockedTo.UNKNOWN:
        return not_known_which(findings, worst)
    return _ROAD if follows is LockedTo.ROAD else ""


def not_known_which(findings: Findings, band: DroneBand) -> str:
    """Say that engine or road is open, and the first drive that would tell."""
    cause = findings.cause_of(band)
    to_decide = () if cause is None else cause.to_decide[:1]
    return " ".join([_UNKNOWN, *(f"Before you cut anything: {lowered(d)}" for d in to_decide)])


def may_hide_a_drone(findings: Findings) -> bool:
    """Whether finding no drone says little, because of how the drive was recorded."""
    return any(doubt.may_hide for doubt in findings.warnings)


def _peak(band: DroneBand) -> tuple[str, str]:
    """Say at which engine speed and frequency a band peaks: one number, or between which two."""
    low_hz, high_hz = band.peak_hz_ci95.low, band.peak_hz_ci95.high
    if high_hz - low_hz <= 2.0 * _AS_ONE_NUMBER * band.peak_hz:
        return f"At about {words.rpm(band.peak_rpm)}", words.hertz(band.peak_hz)
    low_rpm, high_rpm = (60.0 * hz / band.engine_order for hz in (low_hz, high_hz))
    return (
        f"Somewhere between {words.number(round(low_rpm, -1))} and {words.rpm(high_rpm)}",
        f"{words.number(low_hz)} to {words.number(high_hz)} Hz",
    )


def _note(band: DroneBand, findings: Findings) -> str:
    if findings.followed_by(band) is LockedTo.ROAD:
        return "a drone"
    firing = findings.engine is not None and band.engine_order == findings.engine.firing_order
    beat = ", as the cylinders fire" if firing else ""
    order = band.engine_order
    return f"the drone of order {order:g} ({words.beats(order)}{beat})"


def _others(findings: Findings) -> str:
    """Say where the same resonance sounds again, and count what has another cause."""
    first, *others = findings.causes
    again = sorted(findings.bands[number - 1].peak_rpm for number in first.bands[1:])
    at = listed([words.rpm(each) for each in again])
    if len(again) > _MOST_NAMED:
        at = f"{len(again)} more speeds from {words.rpm(again[0])} to {words.rpm(again[-1])}"
    text = f"; the same resonance also sounds at {at}" if again else ""
    if not others:
        return text
    more = "one more drone is" if len(others) == 1 else f"{len(others)} more drones are"
    return f"{text}; {more} listed below"
