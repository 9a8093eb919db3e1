"""Which tube, and one branch or two: the least work that cures in nearly every credible case."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from analysis.branches import Tube
from analysis.drive import IntArray
from analysis.errors import SizingError
from analysis.network_bench import NetworkBench, Outcome, Trials
from analysis.network_choice import best_pair, best_single

SURE = 0.97  # share of the credible cases cured that leaves nothing to ask for
_WORTH_A_SECOND_DB = 1.0  # of the score
_WORTH_A_SECOND_SHARE = 0.04  # more of the credible cases cured


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Branches to build, and what they do in every guess at the exhaust."""

    trials: Trials  # one row
    tube: Tube
    outcome: Outcome
    score_db: float

    @property
    def cured_share(self) -> float:
        """Share of the credible cases that it cures."""
        return float(self.outcome.cured_share[0])

    @property
    def count(self) -> int:
        """Number of branches."""
        return int(self.trials.place.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Plans:
    """What was chosen, and the best of the other number of branches where it was looked for."""

    chosen: Plan
    other: Plan | None


def choose_plan(
    bench: NetworkBench,
    allowed: IntArray,
    lengths_m: tuple[float, float],
    tubes: tuple[Tube, ...],
    count: int | None,
    progress: Callable[[float], None],
) -> Plans:
    """Try tubes and numbers of branches from the least work to the most, until one is sure.

    Raises
    ------
    SizingError
        A count other than 1 or 2, or every tube is wider than the pipe.
    """
    if count not in (None, 1, 2):
        raise SizingError(f"one or two branches can be sized, got {count}")
    ways = list(_ways(bench, allowed, tubes, count))
    if not ways:
        raise SizingError(
            f"every tube on offer is wider than the pipe's bore of "
            f"{1e3 * bench.pipe_bore_m[allowed].max():.1f} mm; give a smaller tube"
        )
    plans: list[Plan] = []
    for number, (tube, branches) in enumerate(ways):
        plans.append(_plan(bench, allowed, lengths_m, tube, branches))
        progress((number + 1) / len(ways))
        if plans[-1].cured_share >= SURE:
            break
    singles, pairs = ([p for p in plans if p.count == n] for n in (1, 2))
    single, pair = _best(singles), _best(pairs)
    if single is None or pair is None:
        return Plans(chosen=single or pair or plans[-1], other=None)
    pays = (
        single.score_db - pair.score_db >= _WORTH_A_SECOND_DB
        or pair.cured_share - single.cured_share >= _WORTH_A_SECOND_SHARE
    )
    if single.cured_share < SURE and pays:
        return Plans(chosen=pair, other=single)
    return Plans(chosen=single, other=pair)


def _best(plans: list[Plan]) -> Plan | None:
    """Take the sure one, which is the last tried, or else the one with the lowest score."""
    if plans and plans[-1].cured_share >= SURE:
        return plans[-1]
    return min(plans, key=lambda plan: plan.score_db, default=None)


def _ways(
    bench: NetworkBench, allowed: IntArray, tubes: tuple[Tube, ...], count: int | None
) -> Iterator[tuple[Tube, int]]:
    """Tube and number of branches, least work first."""
    seated, widest = _tubes(tubes, bench.pipe_bore_m[allowed])
    if count != 2:
        yield from ((tube, 1) for tube in (seated if count is None else seated + widest))
    if count != 1:
        yield from ((tube, 2) for tube in seated + widest)


def _tubes(tubes: tuple[Tube, ...], bores_m: np.ndarray) -> tuple[list[Tube], list[Tube]]:
    """For each bore the widest tube that sits on the pipe's crown, and the widest that fits.

    A wider branch covers a wider band; one as wide as the pipe is harder to fit and weld.
    """
    seated: list[Tube] = []
    widest: list[Tube] = []
    for bore_m in np.unique(bores_m)[::-1]:
        sits = [tube for tube in tubes if tube.outer_diameter_m <= bore_m + 1e-6]
        fits = [tube for tube in tubes if tube.inner_diameter_m <= bore_m + 1e-6]
        for found, into in ((sits, seated), (fits, widest)):
            best = max(found, key=lambda tube: tube.inner_diameter_m, default=None)
            if best is not None and best not in seated + widest:
                into.append(best)
    return seated[:2], widest[:1]


def _plan(
    bench: NetworkBench,
    allowed: IntArray,
    lengths_m: tuple[float, float],
    tube: Tube,
    branches: int,
) -> Plan:
    bore_m = tube.inner_diameter_m
    wide = allowed[bench.pipe_bore_m[allowed] >= bore_m - 1e-6]
    choose = best_single if branches == 1 else best_pair
    chosen = choose(bench, wide, lengths_m, bore_m)
    return Plan(
        trials=chosen.trials,
        tube=tube,
        outcome=bench.outcome(chosen.trials),
        score_db=chosen.score_db,
    )
