"""What to trim where the whole exhaust is known: by the worst credible outcome, as it was sized.

The drive after the work tells where the branches work, and much more: how the exhaust answers to
them. Guesses at the exhaust that meet both drives (:mod:`analysis.compare.trim.both_drives`) are
asked what other lengths would do over the whole driving range. Where only the frequency counts, as
in :mod:`analysis.compare.trim.by_frequency`, a branch would be brought back to where it was meant
to work; but where it should work is known better after a drive with it than before.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from analysis.acoustics.branch_shape import BranchShape
from analysis.acoustics.end_correction import junction_correction_m
from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.basics.rpm_bins import BIN_RATIO, bin_centre_rpm
from analysis.bench.exhaust_bench import ExhaustBench, Trials, ratios
from analysis.compare.match.noise import seen_ms
from analysis.compare.trim.advice import TrimAdvice, believed, not_there, nothing_shown
from analysis.compare.trim.anchored import Anchored, interval_95, outlook_of
from analysis.compare.trim.both_drives import Conditioned, Drives, as_trial, condition
from analysis.compare.trim.branch_at_work import WorkingBranch
from analysis.compare.trim.built import BuiltBranch
from analysis.compare.trim.by_frequency import trim_to
from analysis.compare.trim.second_branch import add_branch, moves_first
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.prior import end_gas_k
from analysis.find.curves.pass_table import table_of_passes
from analysis.findings import Doubt, Findings
from analysis.size.branch_gas import BranchGas, branch_gas_anywhere
from analysis.size.drone_curve import drone_curve
from analysis.size.request import SizingRequest
from analysis.size.setup import lay_curve_out

# judgement: all of these. When no branch shows, when the exhaust of the car file is not believed,
# and how finely lengths are searched. A cut is advised less often the larger they are;
# tests/benchmarks/garage_trim measures what comes of it. 20 % more of a limit moved nothing, of
# _STEPS a foretold level by 0.02 dB.
_SHOWS_DB = 1.5  # of the change, about its mean: less is no branch at work
_MISSES_DB = 1.5  # of the change: then the exhaust in the car file is not this one
_ENOUGH_TOLD = 0.6  # share of the driving range in which both drives tell the change
_WIDEST, _FINEST = 0.25, 0.03  # share of a length to search, first and then about the best
_STEPS = 13  # of each branch's length
# Of a frequency, standard deviation: what all guesses miss alike, in branch and echoes. Found on 80
# cars made with other physics, as in tests/benchmarks/garage_trim.
_ALL_OFF = 0.0045


def trims_on_exhaust(
    request: SizingRequest,
    baseline: Findings,
    postfix: Findings,
    built: Sequence[BuiltBranch],
    progress: Callable[[float], None],
    kept: BuiltBranch | None = None,
) -> TrimAdvice | None:
    """Tell how far to trim each branch, all together; not at all where that gains little.

    Parameters
    ----------
    request : SizingRequest
        As the branches were sized by.
    baseline, postfix : Findings
        On one scale.
    kept : BuiltBranch, optional
        A second branch that a place was kept for, beside one that was built.

    Returns
    -------
    TrimAdvice or None
        What to trim, and what that would do; or what does not fit. None where the exhaust, the
        places or enough of the two drives are not known, or the exhaust in the car file cannot do
        what the branches did.
    """
    drives = _drives(request, baseline, postfix)
    if request.line is None or drives is None or not _can_be_tried(built):
        return None
    told_k = request.branch_gas_k, request.pipe_gas_k
    gas = branch_gas_anywhere(*told_k, end_gas_k(request.line))
    if kept is not None and (len(built) != 1 or not _can_be_tried((*built, kept))):
        kept = None
    known = condition(request.line, drives, built, gas, progress, kept)
    doubt = _not_as_built(request.line, drives, built, gas, known.misfit_db)
    if doubt is not None:
        return TrimAdvice(doubts=(doubt,))
    # after the doubts: with a branch that was never built no exhaust would meet the drives
    if known.misfit_db > _MISSES_DB:
        return None
    return believed(_advice(request, drives, built, known, kept), built, request)


def _advice(
    request: SizingRequest,
    drives: Drives,
    built: Sequence[BuiltBranch],
    known: Conditioned,
    kept: BuiltBranch | None,
) -> TrimAdvice:
    """Ask guesses that meet both drives for better lengths, and for a second branch."""
    as_built = as_trial(built)
    bench = Anchored(known, drives, as_built)
    best = _best_lengths(bench, as_built, request.longest_branch_m)
    outlook = outlook_of(bench.outcome(as_built), bench.outcome(best))
    wanted = best if outlook.is_worth_it else as_built
    addition = None
    if kept is not None:
        addition = add_branch(bench, as_built, kept, outlook, request.longest_branch_m)
        if addition.outlook.is_worth_it:
            outlook = replace(outlook, is_worth_it=False)
            wanted = replace(as_built, length_m=np.array([[addition.first_m]]))
    moves = outlook.is_worth_it or moves_first(addition, as_built)
    at_work = map(_with_what_all_miss, _tuned_hz(known.bench, as_built))
    wanted_hz = np.median(_tuned_hz(known.bench, wanted), axis=1).tolist()
    trims = (
        trim_to(number, replace(branch, wanted_hz=hz), works)
        for number, (branch, works, hz) in enumerate(
            zip(built, at_work, wanted_hz, strict=True), start=1
        )
    )
    return TrimAdvice(
        trims=tuple(replace(trim, is_worth_it=moves) for trim in trims),
        outlook=outlook,
        addition=addition,
    )


def _not_as_built(
    line: ExhaustLine,
    drives: Drives,
    built: Sequence[BuiltBranch],
    gas: BranchGas,
    misfit_db: float,
) -> Doubt | None:
    """Say what was not built, by the drives: any branch, or one of two."""
    changed_db = drives.change_db[drives.told]
    quiet_db = float(np.std(changed_db))
    # about its mean: a changed gain moves all of it, a branch makes notches
    if quiet_db <= max(_SHOWS_DB, misfit_db):
        return nothing_shown(quiet_db)
    if misfit_db <= _MISSES_DB or len(built) == 1:
        return None
    alone_db = [condition(line, drives, [each], gas, lambda _: None).misfit_db for each in built]
    better = int(np.argmin(alone_db))
    if alone_db[better] > _MISSES_DB:
        return None
    return not_there(2 - better, misfit_db, alone_db[better])


def _best_lengths(bench: Anchored, built: Trials, longest_m: float | None) -> Trials:
    """Lengths with the best softened worst case, searched about those built; one row."""
    best = built
    # wide, then fine: one grid so fine and so wide, of two branches, is forty times as many
    for share in (_WIDEST, _FINEST):
        each = [length_m * ratios(share, _STEPS) for length_m in best.length_m[0]]
        if longest_m is not None:
            # what is built may be longer than the room that was told, and stands all the same
            most_m = max(longest_m, float(built.length_m.max()))
            each = [np.minimum(lengths_m, most_m) for lengths_m in each]
        best = bench.best(best, each)
    return best


def _with_what_all_miss(tuned_hz: FloatArray) -> WorkingBranch:
    """Where a branch works, from where it does in every guess [shape=(n_members,)]."""
    middle, ends = float(np.median(tuned_hz)), interval_95(tuned_hz)
    # what all guesses miss alike adds to what they differ in, as independent errors do
    down, up = (
        math.hypot(math.log(end / middle), SURE * _ALL_OFF) for end in (ends.low, ends.high)
    )
    return WorkingBranch(
        tuned_hz=middle,
        ci95_hz=Interval(low=middle * math.exp(-down), high=middle * math.exp(up)),
    )


def _tuned_hz(bench: ExhaustBench, trial: Trials) -> FloatArray:
    """Where each branch of one trial works in every guess, [shape=(n_branches, n_members)]."""
    tuned = []
    for number, (place, length_m) in enumerate(zip(trial.place[0], trial.length_m[0], strict=True)):
        still_m = junction_correction_m(trial.bore_m, float(bench.pipe_bore_m[place]))
        for junction_m, gas_k, neck_hotter_k in zip(
            still_m * (1.0 - bench.swept),
            bench.branch_k[:, number],
            bench.neck_hotter_k,
            strict=True,
        ):
            shape = BranchShape(bore_m=trial.bore_m, junction_m=float(junction_m), can=trial.can)
            acoustic_m = float(length_m + junction_m)
            tuned.append(shape.tuned_hz(acoustic_m, float(gas_k), float(neck_hotter_k)))
    return np.reshape(tuned, (trial.length_m.shape[1], -1))


def _drives(request: SizingRequest, baseline: Findings, postfix: Findings) -> Drives | None:
    """Lay both drives out over frequency; None when they do not tell enough."""
    order = request.target.engine_order
    curve = drone_curve(request)
    if order is None or not curve.is_measured:
        return None
    heard, near = lay_curve_out(curve, order)
    change_db = _change_db(baseline, postfix, order, heard.rpm)
    told = np.isfinite(change_db)
    if told.mean() < _ENOUGH_TOLD or not told[near.any(axis=0)].all():
        return None
    return Drives(before=heard, near=near, change_db=change_db)


def _change_db(
    baseline: Findings, postfix: Findings, engine_order: float, rpm: FloatArray
) -> FloatArray:
    """After against before, where both drives held that engine speed; else NaN."""
    before, after = baseline.curve(engine_order), postfix.curve(engine_order)
    unknown = np.full(rpm.shape, np.nan)
    if before is None or after is None:
        return unknown
    common = np.intersect1d(before.bin_index, after.bin_index)
    if not common.size:
        return unknown
    bins = np.arange(common[0], common[-1] + 1, dtype=np.int64)
    levels_ms = [seen_ms(each, table_of_passes(each, bins)) for each in (before, after)]
    change_db = 10.0 * np.log10(levels_ms[1] / levels_ms[0])
    known = np.isfinite(change_db)
    centre = np.log(bin_centre_rpm(bins[known]))
    # only where both drives hold a bin: nothing is made up across a stretch that was not driven
    apart = np.abs(np.log(rpm)[:, np.newaxis] - centre).min(axis=1)
    near = apart < 1.5 * np.log(BIN_RATIO)
    return np.where(near, np.interp(np.log(rpm), centre, change_db[known]), np.nan)


def _can_be_tried(built: Sequence[BuiltBranch]) -> bool:
    """Whether all have a known place and are of one tube: the bench tries no others together."""
    tubes = {(branch.bore_m, branch.can) for branch in built}
    return len(tubes) == 1 and all(branch.position_m is not None for branch in built)
