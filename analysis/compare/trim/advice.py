"""What is said of trimming, and when nothing is: no trim that rests on what cannot be.

A branch at work is a thermometer, so whatever does not fit (another drive, a branch that was never
built, another length or place, sound on another path) comes out as gas that is too cold or too hot.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.basics.interval import Interval
from analysis.compare.trim.built import BuiltBranch
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.prior import end_gas_k
from analysis.findings import Doubt
from analysis.size.branch_gas import (
    ONE_VALUE_SPREAD_K,
    UNDERBODY_K,
    branch_gas,
    branch_gas_anywhere,
)
from analysis.size.request import SizingRequest
from analysis.verdicts import Addition, Trim, TrimOutlook
from analysis.words.lengths import length
from analysis.words.quantities import temperature_both

TRIM_UNKNOWN = "trim_unknown"
_CHECK = (
    "the drive (is it of this car, after this work?), what was built (length, place, can; say it "
    "with --built), a leak or a blocked hole, or sound that takes another way than the outlet"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimAdvice:
    """What to trim, what all trims would do together, and what cannot be told."""

    trims: tuple[Trim, ...] = ()
    outlook: TrimOutlook | None = None
    addition: Addition | None = None
    doubts: tuple[Doubt, ...] = ()


def credible_gas_k(request: SizingRequest | None, branch: BuiltBranch) -> Interval:
    """Gas that a built branch may hold: as it was sized for, and no hotter than its pipe.

    That includes the rare case of an unmeasured branch as hot as the pipe's gas at its mouth: the
    sizing counts it, so a drive that shows it is believed. A range that somebody measured is for
    its day, so another day may be as far off as one value; and a branch may always be as cold as
    the air under a warm car.
    """
    line, told, pipe_k = None, None, None
    if request is not None:
        line, told, pipe_k = request.line, request.branch_gas_k, request.pipe_gas_k
    if line is None:
        gas = branch_gas(told, pipe_k)
        hottest_k = gas.branch_k.high if pipe_k is None else pipe_k.high
    else:
        ends_k = end_gas_k(line)
        gas = branch_gas_anywhere(told, pipe_k, ends_k)
        hottest_k = _hottest_pipe_k(line, branch, ends_k)
    spread_k = 0.0 if told is None else ONE_VALUE_SPREAD_K
    sized_k = max(gas.branch_k.high + spread_k, gas.hottest_k or 0.0)
    high_k = min(sized_k, max(hottest_k, UNDERBODY_K))
    return Interval(low=min(gas.branch_k.low - spread_k, UNDERBODY_K), high=high_k)


def _hottest_pipe_k(
    line: ExhaustLine, branch: BuiltBranch, ends_k: tuple[Interval, Interval]
) -> float:
    """Hottest credible gas in the pipe at the mouth; it cools evenly along the pipe."""
    inlet_k, outlet_k = ends_k[0].high, ends_k[1].high
    from_collector_m = line.start_m(line.pipe_named(branch.legs)) + (branch.position_m or 0.0)
    share = from_collector_m / max(map(line.end_m, line.open_pipes))
    return inlet_k + (outlet_k - inlet_k) * min(share, 1.0)


def believed(
    advice: TrimAdvice, built: Sequence[BuiltBranch], request: SizingRequest | None
) -> TrimAdvice:
    """Keep the advice if all of its gas can be; else say what does not fit, and nothing more.

    Gas can be if any of its 95 % interval can: a branch in hot gas is found a little above and a
    little below what is credible as often.
    """
    doubts = []
    for trim in advice.trims:
        branch = built[trim.branch - 1]
        credible_k, gas_k = credible_gas_k(request, branch), trim.gas_temperature_ci95_k
        if gas_k.high < credible_k.low or gas_k.low > credible_k.high:
            doubts.append(_no_such_gas(trim, credible_k))
    return TrimAdvice(doubts=(*advice.doubts, *doubts)) if doubts else advice


def _no_such_gas(trim: Trim, credible_k: Interval) -> Doubt:
    too = "cold" if trim.gas_temperature_k < credible_k.low else "hot"
    return built_does_not_fit(
        f"branch {trim.branch}, {length(trim.built_length_m)} long, would work at "
        f"{trim.works_at_hz:.1f} Hz only with gas of {temperature_both(trim.gas_temperature_k)}, "
        f"too {too} to be believed ({temperature_both(credible_k.low)} to "
        f"{temperature_both(credible_k.high)})"
    )


def built_does_not_fit(what: str) -> Doubt:
    """Say that what was built and what the drives show cannot both be true."""
    return Doubt(
        code="built_does_not_fit",
        message=f"What was built does not fit what the drives show: {what}. Check {_CHECK}. "
        "Nothing is said of trimming.",
    )


def nothing_shown(change_db: float) -> Doubt:
    """Say that the drive after the work shows nothing of a branch."""
    return Doubt(
        code="branch_not_shown",
        message="The post-fix drive shows nothing of a branch: over the driving range the order "
        f"changed by only {change_db:.1f} dB, beside a change of gain. Is it the drive after the "
        "work? If it is, look for a leak or a blocked hole, or another place on the pipe. Nothing "
        "is said of trimming.",
    )


def not_there(missing: int, misfit_db: float, alone_db: float) -> Doubt:
    """Say that only one of two branches shows; ``missing`` counts from 1."""
    return built_does_not_fit(
        f"branch {missing} does not show. With the other one alone the exhaust of the car file "
        f"meets the change within {alone_db:.1f} dB, with both only within {misfit_db:.1f} dB. If "
        "only one was built, say its length alone with --built"
    )
