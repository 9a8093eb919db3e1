"""Size branches on the whole exhaust, where the car file gives its lengths.

Many guesses at the exhaust are fitted to the drive; branches are chosen by what they do in nearly
all of them, over the whole driving range; what they foretell is the spread over the guesses.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from analysis.acoustics.gas import exhaust_gas
from analysis.basics.arrays import FloatArray
from analysis.bench.exhaust_bench import ExhaustBench, Trials
from analysis.bench.outcome import WORST, Outcome
from analysis.branches import (
    Branch,
    HandMethod,
    LevelCurves,
    OtherDrone,
    Prediction,
    Sizing,
    Target,
    Tube,
    WeighedPlan,
)
from analysis.exhaust.line import ExhaustLine, into_room_m
from analysis.exhaust.prior import end_gas_k
from analysis.exhaust.stations import names_at
from analysis.size.advice import other_way_measured
from analysis.size.branch_gas import BranchGas, branch_gas_anywhere
from analysis.size.drone_curve import DroneCurve, drone_curve
from analysis.size.endless_pipe import EndlessPipe, hand_length_m, hand_method, sensitivity
from analysis.size.exhaust_advice import Work, assumptions, warnings
from analysis.size.gains import gains, other_places
from analysis.size.parts import credible_db, loss_curves, make_branch, make_pipe
from analysis.size.picture import line_pictures
from analysis.size.plan import EVEN, Plan, Plans, choose_plan
from analysis.size.request import SizingRequest
from analysis.size.search import Room
from analysis.size.setup import Setup, set_up, worse_if_slipped_db
from analysis.words.plans import plan_name, what_more_buys

# judgement: where a branch may be tuned, over the drone's frequency. 20 % more moves a length by
# 1 mm.
_TUNES = (0.75, 1.5)
_TAPE_M = 0.005  # a place is told no finer; judgement: nor found finer
_FITTING_SHARE, _CHOOSING_SHARE = 0.3, 0.6  # of the time; judgement: only the progress bar


def size_on_exhaust(
    request: SizingRequest, line: ExhaustLine, progress: Callable[[float], None]
) -> Sizing:
    """Work out branches and their places.

    Raises
    ------
    SizingError
        A temperature, count or tube that is not possible; no pipe where a branch may go.
    """
    curve = drone_curve(request)
    gas = branch_gas_anywhere(
        request.branch_gas_k, request.pipe_gas_k, end_gas_k(line), request.branch_gas_said_by
    )
    order = request.target.engine_order
    setup = set_up(
        line,
        curve,
        order,
        gas.branch_k,
        lambda x: progress(_FITTING_SHARE * x),
        gas.hottest_k,
        request.tail,
    )
    room, plans = _planned(
        request, gas, setup, lambda x: progress(_FITTING_SHARE + _CHOOSING_SHARE * x)
    )
    work = Work(
        request=request,
        line=line,
        gas=gas,
        room=room,
        plans=plans,
        ensemble=setup.ensemble,
        other_way=other_way_measured(setup.bench, request),
        misread=None if setup.lengths is None else setup.lengths.misread,
        left_out=setup.left_out,
        worse_if_slipped_db=worse_if_slipped_db(setup, plans.chosen.trials),
    )
    first, *others = line_pictures(
        line, setup, request.target, room.kept_to(plans.chosen.way), plans.chosen.trials
    )
    sizing = replace(
        _sizing(work, curve, plans.chosen),
        line=first,
        other_lines=tuple(others),
        others=_other_drones(work, setup.bench),
    )
    progress(1.0)
    return sizing


def _planned(
    request: SizingRequest, gas: BranchGas, setup: Setup, progress: Callable[[float], None]
) -> tuple[Room, Plans]:
    """Plan for all drones together, or for the worst alone where nothing likely cures all."""
    together = _room(request, gas, setup)
    plans = choose_plan(together, request, progress)
    if not request.others or plans.chosen.adjusted_share >= EVEN:
        return together, plans
    alone = _room(replace(request, others=()), gas, setup)
    for_worst = choose_plan(alone, request, progress)
    return (together, plans) if for_worst.chosen.adjusted_share < EVEN else (alone, for_worst)


def _room(request: SizingRequest, gas: BranchGas, setup: Setup) -> Room:
    """Lay out places and lengths to cure the drones of a request."""
    for_all_m, for_worst_m = (
        _lengths_m(each, gas) for each in (request, replace(request, others=()))
    )
    wide, wide_for_worst = (math.log(ends[1] / ends[0]) for ends in (for_all_m, for_worst_m))
    return Room(
        bench=replace(setup.bench, near=setup.bench.near[: 1 + len(request.others)]),
        allowed=setup.allowed,
        lengths_m=for_all_m,
        spread=max(wide / wide_for_worst, 1.0),
    )


def _other_drones(work: Work, bench: ExhaustBench) -> tuple[OtherDrone, ...]:
    """Say what the branches do to the drones beside the worst, planned for or not."""
    outcome = bench.outcome(work.plans.chosen.trials)
    planned = len(work.room.bench.near)
    return tuple(
        OtherDrone(
            target=target,
            predicted=_predict(target, bench, outcome, outcome.drones_db[number, 0]),
            is_planned_for=number < planned,
        )
        for number, target in enumerate(work.request.others, start=1)
    )


def _sizing(work: Work, curve: DroneCurve, plan: Plan) -> Sizing:
    request, gas, bench = work.request, work.gas, work.room.bench
    target, tube = request.target, plan.way.tube
    plans = tuple(_weighed(work, each, is_chosen=each is plan) for each in work.plans.weighed)
    branches, *as_good = (
        _branches(work, curve, tube, trials) for trials in (plan.trials, *plan.as_good)
    )
    acoustic_m = tuple(branch.length_m + branch.end_correction_m for branch in branches)
    spacing_m = _spacing_m(branches)
    pipe_bore_m = float(bench.pipe_bore_m[plan.trials.place[0, 0]])
    both = make_pipe(target, curve, gas, pipe_bore_m, tube, plan.trials.can)
    if spacing_m is not None:
        # where they stand, not the quarter wave apart that an endless pipe asks for
        both = replace(both, spacing_m=spacing_m)
    return Sizing(
        target=target,
        pipe_inner_diameter_m=pipe_bore_m,
        gas_temperature_k=gas.branch_k,
        branches=branches,
        spacing_m=spacing_m,
        predicted=_predict(target, bench, plan.outcome, plan.outcome.drones_db[0, 0]),
        sensitivity=sensitivity(target, both, acoustic_m),
        hand_method=_hand(target, both, bench, plan),
        loss_curves=loss_curves(target, both, acoustic_m),
        level_curves=_level_curves(target, bench, plan.trials),
        assumptions=(*request.notes, *assumptions(work), *curve.assumptions),
        warnings=warnings(work, branches),
        gains=(*other_places(as_good), *what_more_buys(plans), *gains(work)),
        as_good=tuple(as_good),
        plans=plans,
        kept=_kept(work, curve, plan),
        other_way=work.other_way,
    )


def _weighed(work: Work, plan: Plan, *, is_chosen: bool) -> WeighedPlan:
    least_db = plan.outcome.drone_db[0]
    predicted = _predict(work.request.target, work.room.bench, plan.outcome, least_db)
    pipes = work.room.bench.stations.pipe[plan.trials.place[0]].tolist()
    return WeighedPlan(
        name=plan_name([names_at(work.line, pipe) for pipe in pipes], keeps=plan.kept is not None),
        stations=plan.count,
        welds=plan.welds,
        tube_m=plan.tube_m,
        level_change_db=predicted.level_change_db,
        level_change_db_range=predicted.level_change_db_range,
        cured_now_share=plan.cured_share,
        cured_adjusted_share=plan.adjusted_share,
        keeps_place=plan.kept is not None,
        is_chosen=is_chosen,
    )


def _kept(work: Work, curve: DroneCurve, plan: Plan) -> Branch | None:
    """Say what a second branch would likely be at the place that is kept for it."""
    if plan.kept is None:
        return None
    return _branches(work, curve, plan.way.tube, plan.kept.trial)[0]


def _branches(work: Work, curve: DroneCurve, tube: Tube, trials: Trials) -> tuple[Branch, ...]:
    """Say what to cut, and where, for one row of trials."""
    target, gas, made = work.request.target, work.gas, []
    stations = work.room.bench.stations
    for station, length_m in zip(trials.place[0], trials.length_m[0], strict=True):
        pipe_bore_m = float(work.room.bench.pipe_bore_m[station])
        alone = make_pipe(target, curve, gas, pipe_bore_m, tube, trials.can)
        acoustic_m = float(length_m) + alone.shape.junction_m
        pipe, position_m = int(stations.pipe[station]), float(stations.position_m[station])
        # rounded to the tape first: rounded last, it could lie beside its room
        at_m = into_room_m(work.line, pipe, _TAPE_M * round(position_m / _TAPE_M))
        branch = make_branch(alone, gas, tube, acoustic_m, at_m)
        legs = names_at(work.line, pipe)
        made.append(replace(branch, legs=legs, pipe_inner_diameter_m=pipe_bore_m))
    return tuple(made)


def _spacing_m(branches: tuple[Branch, ...]) -> float | None:
    """Distance between two branches on one pipe."""
    if len(branches) != 2 or branches[0].legs != branches[1].legs:
        return None
    return (branches[1].position_m or 0.0) - (branches[0].position_m or 0.0)


def _lengths_m(request: SizingRequest, gas: BranchGas) -> tuple[float, float]:
    """Shortest and longest branch to try."""
    peaks_hz = [each.peak_hz for each in (request.target, *request.others)]
    cold, hot = (
        float(exhaust_gas(end).speed_of_sound_m_s) / 4.0 / peak_hz
        for end, peak_hz in ((gas.branch_k.low, max(peaks_hz)), (gas.branch_k.high, min(peaks_hz)))
    )
    shortest, longest = cold / _TUNES[1], hot / _TUNES[0]
    if request.longest_branch_m is not None:
        longest = min(longest, request.longest_branch_m)
        shortest = min(shortest, longest / 2.0)
    return shortest, longest


def _predict(
    target: Target, bench: ExhaustBench, outcome: Outcome, drone_db: FloatArray
) -> Prediction:
    elsewhere_db = outcome.elsewhere_db[0]
    known = target.engine_order is not None and bench.parts[-1].any()
    return Prediction(
        level_change_db=float(np.median(drone_db)),
        level_change_db_range=credible_db(drone_db),
        elsewhere_change_db=float(np.median(elsewhere_db)) if known else float("nan"),
    )


def _hand(target: Target, alone: EndlessPipe, bench: ExhaustBench, plan: Plan) -> HandMethod:
    """Put the hand method's branch, a plain tube, at the first branch's place."""
    plain = replace(alone.shape, can=None)
    by_hand = hand_method(target.peak_hz, replace(alone, shape=plain))
    length_m = np.array([hand_length_m(target.peak_hz)])
    trial = Trials.singles(plan.trials.place[0, :1], length_m, plan.trials.bore_m, None)
    change_db = float(np.median(bench.outcome(trial).drone_db))
    return replace(by_hand, level_change_db=change_db)


def _level_curves(target: Target, bench: ExhaustBench, trials: Trials) -> LevelCurves | None:
    if target.engine_order is None:
        return None
    before_db = np.median(bench.before_db, axis=0)
    peak_db = before_db[bench.near[0]].max()
    after_db = bench.after_db(trials)[0]
    return LevelCurves(
        rpm=60.0 / target.engine_order * bench.frequency_hz,
        before_db=before_db - peak_db,
        after_db=np.median(after_db, axis=0) - peak_db,
        after_worst_db=np.quantile(after_db, WORST, axis=0) - peak_db,
    )
