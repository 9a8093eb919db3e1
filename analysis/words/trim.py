"""What to trim off each built branch, and what all trims together would do, in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import replace

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.branches import SlidingCap
from analysis.verdicts import Addition, Comparison, Trim, TrimOutlook, Verdict
from analysis.words.lengths import length, told_length
from analysis.words.places import on_pipes, places_along
from analysis.words.quantities import number, temperature_both
from analysis.words.sentences import listed

# judgement: below this share of the credible cases a trim is no cure to count on; words only
_HARDLY = 0.5
_SURELY, _CLEARLY_DB = 0.95, 3.0  # judgement: of a cured drone less gain is not told; words only
_NOTHING_M = 0.0005  # rounds to 0 mm


def trim_order(trim: Trim) -> str:
    """Say what to do to one cap: 'push the sleeve of branch 1 in by 18 mm (11/16 in), to ...'."""
    if not trim.is_worth_it:
        return f"leave {stands(trim)}"
    return _saw_order(trim) if trim.cap is None else _sleeve_order(trim, trim.cap)


def stands(trim: Trim) -> str:
    """Say where the cap of one branch is: 'the sleeve of branch 1 as it is, 81 mm (...) out'."""
    if trim.cap is not None:
        return f"the sleeve of {_named(trim)} as it is, {sleeve_at(_now_m(trim, trim.cap))}"
    together = ", neck and can together" if trim.neck_m else ""
    return f"{_named(trim)} at {length(trim.built_length_m)}{together}"


def _named(trim: Trim) -> str:
    """E.g. 'branch 1', 'branch 1 on each pipe'."""
    return f"branch {trim.branch} {on_pipes(trim.legs)}" if trim.legs else f"branch {trim.branch}"


def sleeve_at(out_m: float) -> str:
    """E.g. '81 mm (3 3/16 in) out', 'pushed in'."""
    return f"{length(out_m)} out" if out_m >= _NOTHING_M else "pushed in"


def told_with_built(trims: Sequence[Trim]) -> str:
    """Say how ``compare`` is told where the sleeves stand then; nothing where a cap is fixed."""
    said = [
        f'--built "sleeve {told_length(_then_m(trim, trim.cap))}"'
        for trim in trims
        if trim.cap is not None and _then_m(trim, trim.cap) >= 0.0
    ]
    return " ".join(said) if len(said) == len(trims) else ""


def _saw_order(trim: Trim) -> str:
    """Say what to do to a branch whose cap is fixed."""
    branch, ends = _named(trim), ""
    if trim.neck_m:
        branch, ends = f"the can of {branch} (not its neck)", " from front to cap"
    verb = "shorten" if trim.cut_m > 0 else "lengthen"
    trimmed = length(trim.part_m - trim.cut_m)
    return f"{verb} {branch} by {length(abs(trim.cut_m))} to {trimmed}{ends}"


def _sleeve_order(trim: Trim, cap: SlidingCap) -> str:
    """Say how far to slide a sleeve; the millimetres said are those that a rule shows."""
    sleeve, then_m = f"the sleeve of {_named(trim)}", _then_m(trim, cap)
    if then_m < 0.0:
        end = f"the end of the {'can' if trim.neck_m else 'tube'} of {_named(trim)}"
        return f"saw {length(-then_m * cap.counts_times)} off {end} and push the sleeve fully on"
    moves_m = then_m - _now_m(trim, cap)
    if then_m < _NOTHING_M:
        return f"push {sleeve} fully in, by {length(abs(moves_m))}"
    way = f"pull {sleeve} out" if moves_m > 0.0 else f"push {sleeve} in"
    order = f"{way} by {length(abs(moves_m))}, to {sleeve_at(then_m)}"
    too_far_m = then_m - cap.furthest_m
    if too_far_m < _NOTHING_M:
        return order
    return f"{order}, with a sleeve {length(too_far_m)} longer than the sheets say"


def _now_m(trim: Trim, cap: SlidingCap) -> float:
    return _whole_mm(cap.out_m(trim.built_length_m))


def _then_m(trim: Trim, cap: SlidingCap) -> float:
    return _whole_mm(cap.out_m(trim.built_length_m - trim.cut_m))


def _whole_mm(length_m: float) -> float:
    return round(1e3 * length_m) / 1e3


def trim_words(trim: Trim) -> str:
    """Say what to do to one branch, how sure that is, and why."""
    gas_k = trim.gas_temperature_ci95_k
    sure, wanted = "", ""
    if trim.is_worth_it:
        sure = f" (95 %: by {_reach(trim)})"
        wanted = f" and should work at {number(trim.wanted_hz, 1)} Hz"
    return (
        f"{trim_order(trim)}{sure}: it works at {number(trim.works_at_hz, 1)} Hz{wanted}; its gas "
        f"is at about "
        f"{temperature_both(trim.gas_temperature_k)}, 95 %: {temperature_both(gas_k.low)} to "
        f"{temperature_both(gas_k.high)}"
    )


def _reach(trim: Trim) -> str:
    """Give the interval of what the cap moves by, in its own millimetres."""
    times = 1.0 if trim.cap is None else trim.cap.counts_times
    ends_m = (trim.ci95_m.low / times, trim.ci95_m.high / times)
    low_m, high_m = sorted(math.copysign(1.0, trim.cut_m) * end_m for end_m in ends_m)
    other_way = " the other way" if low_m < 0.0 else ""
    return f"{length(abs(low_m))}{other_way} to {length(high_m)}"


def trims_words(comparison: Comparison) -> str:
    """Say what all trims would do together; nothing where that is not known, or none is wanted."""
    outlook = comparison.trim_outlook
    if outlook is None:
        return ""
    if outlook.is_worth_it or all(c.verdict is not Verdict.CURED for c in comparison.changes):
        return outlook_words(outlook)
    return _option_words(comparison.trims, outlook)


def _option_words(trims: Sequence[Trim], outlook: TrimOutlook) -> str:
    """Say what is left to gain of what is cured already, if that is clear and sure."""
    moved = [replace(trim, is_worth_it=True) for trim in trims if abs(trim.cut_m) >= _NOTHING_M]
    ends = outlook.then_ci95_db
    sure = outlook.cured_then_share >= _SURELY and ends.high <= outlook.now_db - _CLEARLY_DB
    if not moved or not sure:
        return ""
    return (
        f"it is cured; only if it is to be quieter still, {listed(list(map(trim_order, moved)))}: "
        f"the drone's highest level would change by {outlook.then_db:+.1f} instead of "
        f"{outlook.now_db:+.1f} dB; 95 %: {ends.low:+.1f} to {ends.high:+.1f} dB"
    )


def outlook_words(outlook: TrimOutlook) -> str:
    """Say what is gained by trimming, or why to leave the caps alone."""
    now = f"as built, {_cured(outlook.cured_now_share)}"
    cure = f"(a cure: {-CURED_DB:.0f} dB down and nothing else {ELSEWHERE_DB:.0f} dB up)"
    if not outlook.is_worth_it:
        return f"{now} {cure}; no trim alone would improve that by much"
    then = _state(outlook.then_db, outlook.elsewhere_then_db, outlook.cured_then_share)
    ends = outlook.then_ci95_db
    told = f"{now}; trimmed, {then} {cure}; 95 %: {ends.low:+.1f} to {ends.high:+.1f} dB"
    if outlook.cured_then_share >= _HARDLY:
        return told
    return f"{told}. No length there is a sure cure: size again with the gas temperature found"


def addition_order(addition: Addition) -> str:
    """Say what to weld at the place that was kept, and how long the first branch is beside it."""
    where = places_along([(length(addition.position_m), addition.legs)])
    return (
        f"weld on the second branch, {length(addition.length_m)} long, at the place kept for it, "
        f"{where}, with branch 1 at {length(addition.first_m)}"
    )


def addition_words(addition: Addition) -> str:
    """Say what to weld on, and what both branches would do."""
    outlook, ends = addition.outlook, addition.outlook.then_ci95_db
    then = _state(outlook.then_db, outlook.elsewhere_then_db, outlook.cured_then_share)
    return (
        f"{addition_order(addition)}: {then}; 95 %: {ends.low:+.1f} to {ends.high:+.1f} dB. Fit a "
        "sliding cap, and drive again"
    )


def _state(drone_db: float, elsewhere_db: float, cured_share: float) -> str:
    elsewhere = f", elsewhere by {elsewhere_db:+.1f} dB" if math.isfinite(elsewhere_db) else ""
    return (
        f"the drone's highest level would change by {drone_db:+.1f} dB{elsewhere}, and "
        f"{_cured(cured_share)}"
    )


def _cured(share: float) -> str:
    return f"{100.0 * share:.0f} of 100 exhausts that fit both drives are cured"
