"""Two drives side by side, in words: what they hold alike, what was left out, what came up."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.findings import SteadyTone
from analysis.verdicts import Condition, LeftOut, Louder, Matching
from analysis.words.quantities import UNHEARD_DB, decibel, number, rpm
from analysis.words.sentences import listed

_WORDS = {
    Condition.GEAR: "gear",
    Condition.LOAD: "load",
    Condition.DIRECTION: "direction of the sweep",
}


def matched_words(matching: Matching) -> str:
    """Say what was kept alike, and what the logs do not tell."""
    kept = ["engine speed", *(_WORDS[each] for each in matching.kept)]
    given_up = [_WORDS[each] for each in matching.known if each not in matching.kept]
    logged = (Condition.GEAR, Condition.LOAD)
    unknown = [_WORDS[each] for each in logged if each not in matching.known]
    text = f"at equal {listed(kept)}"
    if given_up:
        text += f"; {listed(given_up)} could not be kept alike without losing most of the drive"
    if unknown:
        text += f"; {listed(unknown)} could not be kept alike, as the logs do not tell enough of it"
    return text


def left_out_words(left_out: LeftOut) -> str:
    """Say what of a drive was left out; empty when next to nothing was."""
    if not left_out.parts:
        return ""
    reasons = "; ".join(
        f"{part.seconds:.0f} s for {part.reason} ({part.what})" for part in left_out.parts
    )
    return (
        f"{left_out.drive_name}: {left_out.seconds_compared:.0f} of {left_out.seconds:.0f} s are "
        f"compared, with at least a part of {left_out.sweeps_compared} of {left_out.sweeps} "
        f"sweeps; not in the other drive: {reasons}"
    )


def whistle_words(whistle: SteadyTone) -> str:
    """Say where a tone is and what it may be."""
    return (
        f"{whistle.frequency_hz:.0f} Hz from {whistle.low_rpm:,.0f} to {whistle.high_rpm:,.0f} "
        f"rpm, {whistle.out_db:.0f} dB out of what is around it, and it does not follow engine "
        "speed: a branch may be singing in the gas stream. Round the edge of its hole, or change "
        "its place"
    )


def louder_words(louder: Louder) -> str:
    """E.g. 'from 900 to 1,340 rpm it is up to 4 dB louder, 9 dB less than the drone was'."""
    return (
        f"from {number(round(louder.low_rpm, -1))} to {rpm(louder.high_rpm)} it is up to "
        f"{decibel(louder.rise_db)} louder, there {under_words(louder.under_db)}"
    )


def under_words(under_db: float) -> str:
    """E.g. '9 dB less than the drone was'."""
    if abs(under_db) < UNHEARD_DB:
        return "as loud as the drone was"
    less = "less than" if under_db > 0.0 else "more than"
    return f"{decibel(abs(under_db))} {less} the drone was"
