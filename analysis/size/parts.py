"""What both ways of sizing need: a tube on an endless pipe, and the branches and losses of it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from analysis.acoustics.branch_shape import shape_on
from analysis.acoustics.transmission_loss import quarter_wave_m
from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.branches import Branch, Can, LossCurves, Target, Tube
from analysis.errors import SizingError
from analysis.size.branch_gas import BranchGas
from analysis.size.drone_curve import DroneCurve, Mask
from analysis.size.endless_pipe import EndlessPipe
from analysis.words.lengths import diameter

# judgement: span of right lengths over length from which a fixed cap is a gamble; no length moves.
_SLIDE_FROM = 0.06
# judgement: the quantiles of the guesses that a foretold range spans; what the guesses, all of one
# model, do not differ in. 20 % more moves the range's worse end by 0.4 and by 0.14 dB.
_CREDIBLE = (0.02, 0.98)
_MODEL_DB = 0.7
_LEAST_CAN_M = 0.05  # judgement: of a can, to hold the sleeve; how far the cap slides in, no length
# from cold to hot; steps finer than any branch is wide; judgement: finer only costs time
_TEMPERATURES = 13
_COVERED_DB = 10.0  # judgement: half as loud; what a branch is said to cover


def make_pipe(
    target: Target,
    curve: DroneCurve,
    gas: BranchGas,
    pipe_bore_m: float,
    tube: Tube,
    can: Can | None = None,
) -> EndlessPipe:
    """One tube on one pipe, with a can at its end or none, over the credible gas."""
    span_k = np.linspace(gas.branch_k.low, gas.branch_k.high, _TEMPERATURES)
    # the likely one is among them, since answers are read off at its index
    temperature_k = np.unique(np.append(span_k, gas.likely_k))
    return EndlessPipe(
        curve=curve,
        temperature_k=temperature_k,
        likely_index=int(np.searchsorted(temperature_k, gas.likely_k)),
        pipe_k=gas.pipe_k,
        pipe_bore_m=pipe_bore_m,
        shape=shape_on(tube, can, pipe_bore_m),
        spacing_m=quarter_wave_m(target.peak_hz, gas.pipe_k),
    )


def make_branch(
    pipe: EndlessPipe,
    gas: BranchGas,
    tube: Tube,
    acoustic_m: float,
    position_m: float | None = None,
) -> Branch:
    """One branch of this acoustic length, with what it covers alone."""
    shape = pipe.shape
    tuned_hz = shape.tuned_hz(acoustic_m, gas.likely_k)
    # 0.05 % of the tune apart, so that the ends of what it covers are as fine
    frequency_hz = tuned_hz * np.linspace(0.4, 1.6, 2401)
    lost_db = pipe.loss_db((acoustic_m,), frequency_hz)[pipe.likely_index]
    covered = _around(frequency_hz, lost_db >= _COVERED_DB, tuned_hz)
    return Branch(
        length_m=acoustic_m - shape.junction_m,
        tube=tube,
        position_m=position_m,
        tuned_hz=tuned_hz,
        gas_temperature_k=gas.likely_k,
        end_correction_m=shape.junction_m,
        shortest_m=shape.acoustic_m(tuned_hz, gas.branch_k.low) - shape.junction_m,
        longest_m=shape.acoustic_m(tuned_hz, gas.branch_k.high) - shape.junction_m,
        covers_low_hz=covered.low,
        covers_high_hz=covered.high,
        peak_loss_db=float(lost_db.max()),
        can=shape.can,
    )


def with_caps(branches: tuple[Branch, ...], room_m: float | None) -> tuple[Branch, ...]:
    """Say how far caps should slide: nowhere where the gas leaves the right length hardly open."""
    if max((b.longest_m - b.shortest_m) / b.length_m for b in branches) <= _SLIDE_FROM:
        return branches
    return tuple(replace(branch, slide_m=_slide_m(branch, room_m)) for branch in branches)


def _slide_m(branch: Branch, room_m: float | None) -> Interval:
    high_m = branch.longest_m if room_m is None else min(branch.longest_m, room_m)
    least_m = 0.0 if branch.can is None else branch.can.neck_m + _LEAST_CAN_M
    # the neck of a can is fixed: its cap can slide no further in than the sleeve holds
    low_m = max(branch.shortest_m, least_m)
    return Interval(low=min(low_m, branch.length_m), high=max(high_m, branch.length_m))


def credible_db(drone_db: FloatArray) -> Interval:
    """Range of the drone's change that is foretold, from that in every guess [any shape].

    Its high end is the worst credible case, wherever one is named.
    """
    low, high = np.quantile(drone_db, _CREDIBLE)
    return Interval(low=float(low) - _MODEL_DB, high=float(high) + _MODEL_DB)


def too_wide(pipe_bore_m: float) -> SizingError:
    """Say that no tube on offer fits on the pipe."""
    return SizingError(
        "every tube on offer is wider than the inside of the pipe, "
        f"{diameter(pipe_bore_m)}; give a smaller tube"
    )


def loss_curves(target: Target, pipe: EndlessPipe, lengths_m: tuple[float, ...]) -> LossCurves:
    """Transmission loss around the drone, cold to hot."""
    frequency_hz = np.linspace(0.5, 2.0, 451) * target.peak_hz
    return LossCurves(
        frequency_hz=frequency_hz,
        temperature_k=pipe.temperature_k,
        likely_index=pipe.likely_index,
        loss_db=pipe.loss_db(lengths_m, frequency_hz),
    )


def _around(frequency_hz: FloatArray, enough: Mask, tuned_hz: float) -> Interval:
    """Find where the stretch of enough loss ends; both at the tune when there is none."""
    if not enough.any():
        return Interval(low=tuned_hz, high=tuned_hz)
    covered = frequency_hz[enough]
    return Interval(low=float(covered[0]), high=float(covered[-1]))
