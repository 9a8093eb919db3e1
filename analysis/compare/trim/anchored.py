"""Guesses at the exhaust put onto what both drives measured, and what other branches would do."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.bench.exhaust_bench import ExhaustBench, Trials
from analysis.bench.outcome import Outcome, outcome_between
from analysis.compare.trim.both_drives import Conditioned, Drives
from analysis.size.setup import SMOOTHED
from analysis.verdicts import TrimOutlook

# judgement: both. How much better a cut must be: it is advised less often the larger they are;
# tests/benchmarks/garage_trim measures what comes of it. 20 % more moved nothing.
CURED_ENOUGH = 0.7  # share of the credible cases: leave the cap alone
BETTER_SHARE, _BETTER_DB = 0.15, 1.0  # of the cases cured, or of the score: worth a cut
# judgement: 20 % more moves a foretold level by 0.02 dB.
_STAYS_DB = 3.0  # of what the model misses, this much is taken to stay when a cap moves
_95 = (0.025, 0.975)  # ends of a 95 % interval, by definition
# 95 %: how well two drives and one model tell a highest level. judgement: it widens every foretold
# range by as much.
_DRIVES_DB = 1.5


class Anchored:
    """Tries lengths on guesses at the exhaust, put onto what both drives measured.

    What a guess misses before, smoothed, stays in before and after; what it misses of the change,
    within limits, stays in after.
    """

    def __init__(self, known: Conditioned, drives: Drives, built: Trials) -> None:
        bench = self._bench = known.bench
        heard = drives.before
        self._before_db = bench.before_db + _smoothed(heard.level_db - bench.before_db)
        in_model_db = known.gain_db[:, np.newaxis] - 10.0 * np.log10(bench.lost(built)[0])
        # not told is not missed
        missed_db = np.where(drives.told, drives.change_db - in_model_db, 0.0)
        self._missed_db = np.clip(_smoothed(missed_db), -_STAYS_DB, _STAYS_DB)

    @property
    def in_flow_order(self) -> tuple[int, ...]:
        """Stations in the order of the flow, which is that of their places."""
        stations = self._bench.stations.places
        return tuple(sorted(range(len(stations)), key=lambda station: stations[station]))

    def outcome(self, trials: Trials) -> Outcome:
        """Work out what each trial does in every guess, against the drive before."""
        lost_db = 10.0 * np.log10(self._in_their_gas(trials).lost(trials))
        after_db = self._before_db + self._missed_db - lost_db
        return outcome_between(self._before_db, after_db, self._bench.parts)

    def best(self, like: Trials, lengths_m: Sequence[FloatArray]) -> Trials:
        """Cross these lengths, those of each place of ``like``; give the best, one row.

        The best has the best softened worst case.
        """
        crossed = like.crossed(lengths_m)
        return crossed.row(int(self.outcome(crossed).score_db.argmin()))

    def _in_their_gas(self, trials: Trials) -> ExhaustBench:
        """Leave the gas that was found with the branch it was found in, though another is first."""
        first = trials.place[0, 0]
        if first == 0:
            return self._bench
        # first and second change places, and so do those on the pipes that mirror theirs
        return replace(self._bench, branch_k=self._bench.branch_k[:, [1, 0, 3, 2]])


def outlook_of(now: Outcome, then: Outcome) -> TrimOutlook:
    """Say what becomes of one trial by another, and whether that is worth a cut."""
    ends = interval_95(then.drone_db[0])
    now_share, then_share = float(now.cured_share[0]), float(then.cured_share[0])
    gains = (
        then_share - now_share >= BETTER_SHARE
        or float(now.score_db[0] - then.score_db[0]) >= _BETTER_DB
    )
    return TrimOutlook(
        is_worth_it=now_share < CURED_ENOUGH and gains,
        now_db=float(np.median(now.drone_db)),
        then_db=float(np.median(then.drone_db)),
        then_ci95_db=Interval(low=ends.low - _DRIVES_DB, high=ends.high + _DRIVES_DB),
        elsewhere_now_db=float(np.median(now.elsewhere_db)),
        elsewhere_then_db=float(np.median(then.elsewhere_db)),
        cured_now_share=now_share,
        cured_then_share=then_share,
    )


def interval_95(values: FloatArray) -> Interval:
    """Give the interval that holds 95 % of values [any shape]."""
    low, high = np.quantile(values, _95)
    return Interval(low=float(low), high=float(high))


def _smoothed(level_db: FloatArray) -> FloatArray:
    return np.asarray(uniform_filter1d(level_db, SMOOTHED, axis=-1))
