"""What to trim off each built branch, and what all trims together would do, in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.verdicts import Trim, TrimOutlook
from analysis.words.lengths import length
from analysis.words.quantities import number, temperature_both

# judgement: below this share of the credible cases a trim is no cure to count on; words only
_HARDLY = 0.5


def trim_order(trim: Trim) -> str:
    """Say what to do to one branch: 'shorten branch 1 by 20 mm (13/16 in) to 889 mm (35 in)'."""
    branch = f"branch {trim.branch}"
    if not trim.is_worth_it:
        together = ", neck and can together" if trim.neck_m else ""
        return f"leave {branch} at {length(trim.built_length_m)}{together}"
    part, ends = branch, ""
    if trim.neck_m:
        part, ends = f"the can of {branch} (not its neck)", " from front to cap"
    verb = "shorten" if trim.cut_m > 0 else "lengthen"
    trimmed = length(trim.part_m - trim.cut_m)
    return f"{verb} {part} by {length(abs(trim.cut_m))} to {trimmed}{ends}"


def trim_words(trim: Trim) -> str:
    """Say what to do to one branch, how sure that is, and why."""
    gas_k = trim.gas_temperature_ci95_k
    sure = f" (95 %: by {_reach(trim)})" if trim.is_worth_it else ""
    return (
        f"{trim_order(trim)}{sure}: it works at {number(trim.works_at_hz, 1)} Hz and should work "
        f"at {number(trim.wanted_hz, 1)} Hz; its gas is at about "
        f"{temperature_both(trim.gas_temperature_k)}, 95 %: {temperature_both(gas_k.low)} to "
        f"{temperature_both(gas_k.high)}"
    )


def _reach(trim: Trim) -> str:
    ends_m = (trim.ci95_m.low, trim.ci95_m.high)
    low_m, high_m = sorted(math.copysign(1.0, trim.cut_m) * end_m for end_m in ends_m)
    other_way = " the other way" if low_m < 0.0 else ""
    return f"{length(abs(low_m))}{other_way} to {length(high_m)}"


def outlook_words(outlook: TrimOutlook) -> str:
    """Say what is gained by trimming, or why to leave the caps alone."""
    now = f"as built, {_cured(outlook.cured_now_share)}"
    cure = f"(a cure: {-CURED_DB:.0f} dB down and nothing else {ELSEWHERE_DB:.0f} dB up)"
    if not outlook.is_worth_it:
        return f"{now} {cure}; no trim would improve that by much"
    then = _state(outlook.then_db, outlook.elsewhere_then_db, outlook.cured_then_share)
    ends = outlook.then_ci95_db
    told = f"{now}; trimmed, {then} {cure}; 95 %: {ends.low:+.1f} to {ends.high:+.1f} dB"
    if outlook.cured_then_share >= _HARDLY:
        return told
    return f"{told}. No length there is a sure cure: size again with the gas temperature found"


def _state(drone_db: float, elsewhere_db: float, cured_share: float) -> str:
    elsewhere = f", elsewhere by {elsewhere_db:+.1f} dB" if math.isfinite(elsewhere_db) else ""
    return (
        f"the drone's highest level would change by {drone_db:+.1f} dB{elsewhere}, and "
        f"{_cured(cured_share)}"
    )


def _cured(share: float) -> str:
    return f"{100.0 * share:.0f} of 100 credible cases are cured"
