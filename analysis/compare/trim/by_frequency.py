"""What to trim: from where a built branch works to its gas, and to the length that it should have.

A branch that works at ``f0`` with acoustic length ``L`` (junction correction included) holds gas in
which sound runs ``4 L f0``. The gas stays what it is when the cap moves a little, so the length for
the wanted frequency follows, and nobody need measure a temperature.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.basics.interval import Interval
from analysis.compare.trim.advice import TRIM_UNKNOWN, TrimAdvice, believed
from analysis.compare.trim.branch_at_work import WorkingBranch, working_branches
from analysis.compare.trim.built import BuiltBranch
from analysis.findings import Doubt, Findings
from analysis.size.request import SizingRequest
from analysis.verdicts import Trim
from analysis.words.lengths import length

_WORTH_IT = 0.01  # of the frequency: off by less, nobody hears it; common practice, no source
# half a 95 % interval over the frequency; judgement: a vaguer one is no ground to cut
_SURE_ENOUGH = 0.03


def advise_trims(
    baseline: Findings,
    postfix: Findings,
    built: Sequence[BuiltBranch],
    request: SizingRequest | None = None,
) -> TrimAdvice:
    """Tell how far to trim each built branch, and what cannot be told.

    Parameters
    ----------
    baseline, postfix : Findings
        The drives before and after the branches were welded on, on one scale.
    request : SizingRequest, optional
        What they were sized by, for the gas that they may hold.
    """
    if baseline.levels_only:
        return TrimAdvice(
            doubts=(_doubt("overall levels hold no orders; record sound both times"),)
        )
    wanted_hz = [branch.wanted_hz for branch in built]
    working = working_branches(baseline, postfix, wanted_hz)
    if not working:
        why = "both drives must sweep through the drone, in both more slowly than now"
        return TrimAdvice(doubts=(_doubt(why),))
    trims: list[Trim] = []
    doubts: list[Doubt] = []
    for number, (branch, at_work) in enumerate(zip(built, working, strict=True), start=1):
        trouble = _trouble(branch, at_work)
        if trouble:
            doubts.append(_doubt(f"branch {number}: {trouble}"))
        else:
            trims.append(trim_to(number, branch, at_work))
    return believed(TrimAdvice(trims=tuple(trims), doubts=tuple(doubts)), built, request)


def _trouble(branch: BuiltBranch, at_work: WorkingBranch) -> str:
    ends = at_work.ci95_hz
    if ends.high - ends.low > 2.0 * _SURE_ENOUGH * at_work.tuned_hz:
        return (
            f"its notch, somewhere from {ends.low:.0f} to {ends.high:.0f} Hz if at all, is not "
            "clear enough to cut by; record two or three more slow sweeps in each drive, and if it "
            "comes out no clearer, look for a leak or a blocked hole"
        )
    coldest_hz, hottest_hz = branch.tuned_hz(COLDEST_K), branch.tuned_hz(HOTTEST_K)
    if not coldest_hz < ends.low < ends.high < hottest_hz:
        return (
            f"it seems to work at {at_work.tuned_hz:.1f} Hz, which no gas explains for a length "
            f"of {length(branch.length_m)}; measure it again and look for a leak"
        )
    return ""


def trim_to(number: int, branch: BuiltBranch, at_work: WorkingBranch) -> Trim:
    """Bring one branch from where it works to where it should; ``number`` counts from 1."""
    ends = at_work.ci95_hz
    cold_k, gas_k, hot_k = (
        _gas_temperature_k(branch, hz) for hz in (ends.low, at_work.tuned_hz, ends.high)
    )
    off = at_work.tuned_hz / branch.wanted_hz - 1.0
    return Trim(
        branch=number,
        built_length_m=branch.length_m,
        cut_m=branch.length_m - branch.right_length_m(gas_k),
        ci95_m=Interval(
            low=branch.length_m - branch.right_length_m(hot_k),
            high=branch.length_m - branch.right_length_m(cold_k),
        ),
        works_at_hz=at_work.tuned_hz,
        wanted_hz=branch.wanted_hz,
        gas_temperature_k=gas_k,
        gas_temperature_ci95_k=Interval(low=cold_k, high=hot_k),
        is_worth_it=abs(off) >= _WORTH_IT and not ends.low < branch.wanted_hz < ends.high,
        neck_m=0.0 if branch.can is None else branch.can.neck_m,
        cap=branch.cap,
        legs=branch.legs,
    )


def _gas_temperature_k(branch: BuiltBranch, tuned_hz: float) -> float:
    from scipy.optimize import brentq  # late: it takes 16 MB, and no drive alone needs it

    # it has a root: _trouble refuses what no gas between the two explains
    return float(brentq(lambda k: branch.tuned_hz(k) - tuned_hz, COLDEST_K, HOTTEST_K, xtol=1e-6))


def _doubt(what: str) -> Doubt:
    return Doubt(code=TRIM_UNKNOWN, message=f"What to trim cannot be told: {what}.")
