"""Choose branch lengths by the worst level that any credible gas temperature leaves of the drone.

A length tuned exactly at the likely temperature is not always the best one: what counts is the
highest level left over the drone's whole width, at the least lucky temperature. So lengths are
searched on a grid, and refined around the best.

In a real pipe the same branch does much or nothing, by the pressure where it sits. How much was
measured on made-up whole exhausts, none of which the sizing was told.

Here too, as lengths alone tell them: what an error of one kelvin, millimetre or rpm costs, and the
hand method, a quarter of a wavelength in cold air (common practice, no source).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.acoustics.branch_shape import BranchShape
from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.acoustics.transmission_loss import MOUTH_RESISTANCE, branch_admittance, loss_db
from analysis.basics.arrays import ComplexArray, FloatArray
from analysis.basics.cure import CURED_DB
from analysis.basics.interval import Interval
from analysis.branches import ByThumb, HandMethod, Prediction, Sensitivity, Target
from analysis.size.drone_curve import DroneCurve

# judgement: better worst case that pays for the work of another branch. The rest decides between
# lengths alike, and how finely they are searched.
WORTH_A_SECOND_DB = 3.0
_LIKELY_WEIGHT = 0.1  # decides between lengths with nearly the same worst case
# judgement: finer steps only cost time; 20 % more moves a length by 0.1 mm.
_SINGLE_STEPS, _PAIR_STEPS, _REFINED_STEPS = 61, 25, 9
_REFINEMENTS = 3
# Measured by tests/benchmarks/worlds/quick_answer with one and two branches, on 72 cars, 9000 and
# 9100 on: how far 96 of 100 of them lay beyond the range of transmission loss, the middle one
# beside its middle; how much louder a useless place made the drone; and on cars from 9100 and 9300
# on: cars, cured, louder elsewhere. They move no length.
_WORSE_DB = {1: 7.0, 2: 14.5}
_BETTER_DB = {1: 10.5, 2: 6.5}
_LIKELY_WORSE_DB = {1: 1.0, 2: 3.4}
_NO_USE_DB = 3.0
_CAME_OF = {1: (80, 29, 20), 2: (96, 48, 20)}
HAND_SPEED_M_S = 1125.33 * 0.3048  # what hand calculators use, in ft/s; common practice, no source
# judgement: steps of error that a builder can picture; moves no length
_KELVIN, _METRES, _RPM = 10.0, 0.010, 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EndlessPipe:
    """An endless pipe, its gas and the drone: what lengths are tried on.

    ``temperature_k`` [shape=(n,)] runs from cold to hot over the credible branch gas;
    ``likely_index`` is where the likely one stands in it.
    """

    curve: DroneCurve
    temperature_k: FloatArray
    likely_index: int
    pipe_k: float
    pipe_bore_m: float
    shape: BranchShape
    spacing_m: float

    def loss_db(
        self,
        acoustic_lengths_m: tuple[float, ...],
        frequency_hz: FloatArray,
        mouth_resistance: float = MOUTH_RESISTANCE,
    ) -> FloatArray:
        """Transmission loss [shape=(n_temperatures, n_frequency)] of these branches together."""
        admittances = tuple(
            self._admittance(np.array([[length]]), frequency_hz, mouth_resistance)
            for length in acoustic_lengths_m
        )
        return self._loss_db(admittances, frequency_hz)

    def level_changes_db(
        self, acoustic_lengths_m: tuple[float, ...], mouth_resistance: float = MOUTH_RESISTANCE
    ) -> FloatArray:
        """Change of the drone's highest level [shape=(n_temperatures,)]."""
        near = self.curve.near
        lost = self.loss_db(acoustic_lengths_m, self.curve.frequency_hz[near], mouth_resistance)
        return _change_db(self.curve.level_db[near], lost)

    def scores_db(self, lengths_m: FloatArray, pairs: bool) -> FloatArray:
        """Score of each length [shape=(n,)], or of each pair of them [shape=(n, n)]."""
        near = self.curve.near
        frequency_hz, level_db = self.curve.frequency_hz[near], self.curve.level_db[near]
        each = self._admittance(lengths_m[:, None, None], frequency_hz, MOUTH_RESISTANCE)
        if not pairs:
            return self._score_db(_change_db(level_db, self._loss_db((each,), frequency_hz)))
        rows = [
            self._score_db(_change_db(level_db, self._loss_db((one[None], each), frequency_hz)))
            for one in each
        ]
        return np.array(rows)

    def _score_db(self, changes_db: FloatArray) -> FloatArray:
        worst: FloatArray = changes_db.max(axis=-1)
        return worst + _LIKELY_WEIGHT * changes_db[..., self.likely_index]

    def _admittance(
        self, lengths_m: FloatArray, frequency_hz: FloatArray, mouth_resistance: float
    ) -> ComplexArray:
        return branch_admittance(
            frequency_hz,
            lengths_m,
            shape=self.shape,
            branch_k=self.temperature_k[:, None],
            pipe_bore_m=self.pipe_bore_m,
            pipe_k=self.pipe_k,
            mouth_resistance=mouth_resistance,
        )

    def _loss_db(
        self, admittances: tuple[ComplexArray, ...], frequency_hz: FloatArray
    ) -> FloatArray:
        return loss_db(
            frequency_hz,
            admittances,
            spacing_m=self.spacing_m,
            pipe_bore_m=self.pipe_bore_m,
            pipe_k=self.pipe_k,
        )


def choose_lengths(
    pipe: EndlessPipe, shortest_m: float, longest_m: float, count: int | None
) -> tuple[float, ...]:
    """Acoustic lengths of the branches, longest first.

    ``count`` None takes two only where one does not reach ``CURED_DB`` in the worst case and two
    better it by ``WORTH_A_SECOND_DB``.
    """
    single = _best_lengths(pipe, shortest_m, longest_m, 1)
    single_db = pipe.level_changes_db(single).max()
    if count == 1 or (count is None and single_db <= CURED_DB):
        return single
    # only now: all pairs of lengths are many times the work of one length
    pair = _best_lengths(pipe, shortest_m, longest_m, 2)
    gain = single_db - pipe.level_changes_db(pair).max()
    return pair if count == 2 or gain >= WORTH_A_SECOND_DB else single


def _best_lengths(
    pipe: EndlessPipe, shortest_m: float, longest_m: float, count: int
) -> tuple[float, ...]:
    """Search one length or two on a grid, then on finer ones about the best; longest first."""

    def best_of(lengths_m: FloatArray) -> FloatArray:
        scores_db = pipe.scores_db(lengths_m, pairs=count == 2)
        return lengths_m[list(np.unravel_index(scores_db.argmin(), scores_db.shape))]

    grid = np.linspace(shortest_m, longest_m, _SINGLE_STEPS if count == 1 else _PAIR_STEPS)
    best, step = best_of(grid), grid[1] - grid[0]
    for _ in range(_REFINEMENTS):
        around = best[:, None] + np.linspace(-step, step, _REFINED_STEPS)
        best = best_of(np.unique(np.clip(around, shortest_m, longest_m)))
        # to the spacing of this grid: the next one looks between the neighbours of the best
        step *= 2.0 / (_REFINED_STEPS - 1)
    return tuple(sorted(best.tolist(), reverse=True))


def _change_db(level_db: FloatArray, lost_db: FloatArray) -> FloatArray:
    """Change of the highest level, of levels re the highest before; now another may be highest."""
    return np.asarray((level_db - lost_db).max(axis=-1), dtype=np.float64)


def by_thumb(quarter_m: float, branches: int) -> ByThumb:
    """Give the rule of thumb, and what came of so many branches by it."""
    cars, cured, louder = _CAME_OF[branches]
    return ByThumb(quarter_m=quarter_m, cars=cars, cured=cured, louder=louder)


def at_any_place(predicted: Prediction, branches: int) -> Prediction:
    """Widen what transmission loss foretells to what came of it, place and all.

    What happens beside the drone is then not known at all.
    """
    span = predicted.level_change_db_range
    wide = Interval(
        low=span.low - _BETTER_DB[branches], high=worst_at_any_place_db(span.high, branches)
    )
    return Prediction(
        level_change_db=predicted.level_change_db + _LIKELY_WORSE_DB[branches],
        level_change_db_range=wide,
        elsewhere_change_db=math.nan,
    )


def worst_at_any_place_db(worst_db: float, branches: int) -> float:
    """Give the worst case, place and all; where it does nothing, it makes little louder."""
    return min(worst_db + _WORSE_DB[branches], max(worst_db, _NO_USE_DB))


def sensitivity(
    target: Target, pipe: EndlessPipe, acoustic_lengths_m: tuple[float, ...]
) -> Sensitivity:
    """Shift of the first branch's tuning, and loss given up at the worse edge of the drone."""
    likely_k = float(pipe.temperature_k[pipe.likely_index])
    order = target.engine_order

    def edge_db(more_k: float = 0.0, more_m: float = 0.0, more_hz: float = 0.0) -> float:
        """Least loss at the drone's two edges, with this much error."""
        edges_hz = np.array([target.low_hz, target.high_hz]) + more_hz
        at = replace(
            pipe, temperature_k=np.clip([likely_k + more_k], COLDEST_K, HOTTEST_K), likely_index=0
        )
        lengths = tuple(length + more_m for length in acoustic_lengths_m)
        return float(at.loss_db(lengths, edges_hz).min())

    tuned_hz = pipe.shape.tuned_hz
    first_m, right_db = acoustic_lengths_m[0], edge_db()
    by_rpm = float("nan")
    if order is not None:
        shift_hz = _RPM * order / 60.0
        by_rpm = right_db - min(edge_db(more_hz=shift_hz), edge_db(more_hz=-shift_hz))
    return Sensitivity(
        hz_per_kelvin=tuned_hz(first_m, likely_k + 0.5) - tuned_hz(first_m, likely_k - 0.5),
        hz_per_mm=tuned_hz(first_m + 5e-4, likely_k) - tuned_hz(first_m - 5e-4, likely_k),
        hz_per_rpm=float("nan") if order is None else order / 60.0,
        loss_db_per_10_kelvin=right_db - min(edge_db(more_k=_KELVIN), edge_db(more_k=-_KELVIN)),
        loss_db_per_10_mm=right_db - min(edge_db(more_m=_METRES), edge_db(more_m=-_METRES)),
        loss_db_per_20_rpm=by_rpm,
    )


def hand_length_m(frequency_hz: float) -> float:
    """Quarter of the wavelength in cold air, no correction."""
    return HAND_SPEED_M_S / (4.0 * frequency_hz)


def hand_method(peak_hz: float, pipe: EndlessPipe) -> HandMethod:
    """One branch cut by hand from the same tube, and where it would really tune."""
    length_m = hand_length_m(peak_hz)
    acoustic_m = length_m + pipe.shape.junction_m
    tunes_hz = [pipe.shape.tuned_hz(acoustic_m, k) for k in pipe.temperature_k]
    changes_db = pipe.level_changes_db((acoustic_m,))
    return HandMethod(
        speed_of_sound_m_s=HAND_SPEED_M_S,
        length_m=length_m,
        really_tunes_hz=tunes_hz[pipe.likely_index],
        really_tunes_hz_range=Interval(low=tunes_hz[0], high=tunes_hz[-1]),
        level_change_db=float(changes_db[pipe.likely_index]),
    )
