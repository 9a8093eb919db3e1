"""Size one or two closed quarter-wave branches for a drone.

The order of the work: what the gas may be, which tube, which lengths (by the worst credible case),
then what they should do, what errors cost, and what the hand method would have cut.

Where the lengths of the exhaust are known, all of it is worked out on the whole exhaust, places
too: see :mod:`analysis.size.on_exhaust`. Here the place along the pipe is not known, so everything
rests on transmission loss, which does not depend on it; the real change does, so what is foretold
is widened by what came of it on made-up cars: :mod:`analysis.size.endless_pipe`.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from analysis.acoustics import duct
from analysis.acoustics.end_correction import SAME_BORE_M
from analysis.acoustics.gas import exhaust_gas
from analysis.acoustics.transmission_loss import MOUTH_RESISTANCE_RANGE, quarter_wave_m
from analysis.basics.interval import Interval
from analysis.branches import LevelCurves, Prediction, Sizing, Target, Tube
from analysis.errors import SizingError
from analysis.size.advice import assumptions, warnings, worst_alone
from analysis.size.branch_gas import BranchGas, branch_gas
from analysis.size.drone_curve import drone_curve
from analysis.size.endless_pipe import (
    EndlessPipe,
    at_any_place,
    by_thumb,
    choose_lengths,
    hand_method,
    sensitivity,
)
from analysis.size.no_hill import heeding_tail
from analysis.size.on_exhaust import size_on_exhaust
from analysis.size.parts import loss_curves, make_branch, make_pipe, too_wide, with_caps
from analysis.size.request import SizingRequest
from analysis.words.lengths import diameter, length

# 2 1/2 in x 0.065 in, the commonest home-built pipe; common practice, no source
ASSUMED_PIPE_BORE_M = 0.0602
_PIPE_BORES_M = (0.020, 0.160)  # judgement: what is outside is a slip of unit; refused
# How far past the drone's edges a branch may be tuned; judgement: farther off it misses the drone.
_SEARCH_BEYOND = 0.05


def size_branches(
    request: SizingRequest, *, progress: Callable[[float], None] | None = None
) -> Sizing:
    """Work out the branches for a request.

    Parameters
    ----------
    progress : callable, optional
        Told now and then which part of the work, 0 to 1, is done.

    Raises
    ------
    SizingError
        A size, temperature or count that is not possible; a pipe too small for every tube.
    """
    if request.branch_count not in (None, 1, 2):
        raise SizingError(f"one or two branches can be sized, got {request.branch_count}")
    if request.line is None:
        sizing = _by_length_alone(replace(request, others=()))
        sizing = replace(sizing, warnings=(*sizing.warnings, *worst_alone(request)))
    else:
        sizing = size_on_exhaust(request, request.line, progress or (lambda _: None))
    sizing = heeding_tail(sizing, request.tail)
    room_m = request.longest_branch_m
    return replace(
        sizing,
        branches=with_caps(sizing.branches, room_m),
        as_good=tuple(with_caps(branches, room_m) for branches in sizing.as_good),
        kept=None if sizing.kept is None else with_caps((sizing.kept,), room_m)[0],
    )


def _by_length_alone(request: SizingRequest) -> Sizing:
    pipe_bore_m = _pipe_bore_m(request)
    gas = branch_gas(request.branch_gas_k, request.pipe_gas_k, request.branch_gas_said_by)
    tube = choose_tube(request.tubes, pipe_bore_m)
    curve = drone_curve(request)
    pipe = make_pipe(request.target, curve, gas, pipe_bore_m, tube)
    correction_m = pipe.shape.junction_m
    lengths_m = choose_lengths(
        pipe, *_search_m(request, gas, tube, correction_m), request.branch_count
    )
    branches = tuple(make_branch(pipe, gas, tube, length) for length in lengths_m)
    spacing_m = pipe.spacing_m if len(branches) == 2 else None
    quarter_m = quarter_wave_m(request.target.peak_hz, gas.pipe_k)
    predicted = _predict(pipe, lengths_m)
    return Sizing(
        target=request.target,
        pipe_inner_diameter_m=pipe_bore_m,
        gas_temperature_k=gas.branch_k,
        branches=branches,
        spacing_m=spacing_m,
        by_thumb=by_thumb(quarter_m, len(branches)),
        predicted=at_any_place(predicted, len(branches)),
        sensitivity=sensitivity(request.target, pipe, lengths_m),
        hand_method=hand_method(request.target.peak_hz, pipe),
        loss_curves=loss_curves(request.target, pipe, lengths_m),
        level_curves=_level_curves(request.target, pipe, lengths_m),
        assumptions=(
            *request.notes,
            *assumptions(request, gas, pipe_bore_m, quarter_m, len(branches)),
            *curve.assumptions,
        ),
        warnings=warnings(request, gas, branches, predicted, quarter_m),
    )


def choose_tube(tubes: tuple[Tube, ...], pipe_bore_m: float) -> Tube:
    """Widest tube that still sits on the pipe's crown: outside no wider than the pipe's bore.

    A wider branch covers a wider band; one as wide as the pipe is hard to fit and weld. A tube that
    is the only choice may be as wide as the pipe.

    Raises
    ------
    SizingError
        Every tube is too wide.
    """
    seated = [tube for tube in tubes if tube.is_within(pipe_bore_m)]
    widest_m = pipe_bore_m + SAME_BORE_M
    fitting = seated or [tube for tube in tubes if tube.inner_diameter_m <= widest_m]
    if not fitting:
        raise too_wide(pipe_bore_m)
    if not seated:
        return min(fitting, key=lambda tube: tube.inner_diameter_m)
    return max(fitting, key=lambda tube: tube.inner_diameter_m)


def _pipe_bore_m(request: SizingRequest) -> float:
    bore_m = request.pipe_inner_diameter_m
    if bore_m is None:
        return ASSUMED_PIPE_BORE_M
    if not _PIPE_BORES_M[0] <= bore_m <= _PIPE_BORES_M[1]:
        raise SizingError(
            f"the pipe's inner diameter must be {length(_PIPE_BORES_M[0])} to "
            f"{length(_PIPE_BORES_M[1])}, got {diameter(bore_m)}; check the unit"
        )
    return bore_m


def _search_m(
    request: SizingRequest, gas: BranchGas, tube: Tube, correction_m: float
) -> tuple[float, float]:
    """Acoustic lengths to search; past the room only where the drone's own is longer."""
    bore_m, target = tube.inner_diameter_m, request.target

    def right_m(tuned_hz: float, temperature_k: float) -> float:
        return float(duct.quarter_wave_length_m(tuned_hz, exhaust_gas(temperature_k), bore_m))

    shortest = right_m(target.high_hz * (1.0 + _SEARCH_BEYOND), gas.branch_k.low)
    longest = right_m(target.low_hz * (1.0 - _SEARCH_BEYOND), gas.branch_k.high)
    if request.longest_branch_m is not None:
        room_m = request.longest_branch_m + correction_m
        longest = min(longest, max(room_m, right_m(target.peak_hz, gas.likely_k)))
    return shortest, longest


def _predict(pipe: EndlessPipe, lengths_m: tuple[float, ...]) -> Prediction:
    """Change over the credible temperatures, and with little or much resistance at the mouth."""
    changes = [pipe.level_changes_db(lengths_m, r) for r in MOUTH_RESISTANCE_RANGE]
    likely = float(pipe.level_changes_db(lengths_m)[pipe.likely_index])
    # a blunter notch is wider: the likely mouth need not lie between what its extremes do
    low, high = float(np.min(changes)), float(np.max(changes))
    return Prediction(
        level_change_db=likely,
        level_change_db_range=Interval(low=min(low, likely), high=max(high, likely)),
        elsewhere_change_db=math.nan,  # the place decides that
    )


def _level_curves(
    target: Target, pipe: EndlessPipe, lengths_m: tuple[float, ...]
) -> LevelCurves | None:
    if target.engine_order is None:
        return None
    curve = pipe.curve
    after_db = curve.level_db - pipe.loss_db(lengths_m, curve.frequency_hz)
    return LevelCurves(
        rpm=60.0 / target.engine_order * curve.frequency_hz,
        before_db=curve.level_db,
        after_db=after_db[pipe.likely_index],
        after_worst_db=after_db.max(axis=0),
    )
