"""Ways to build that come out alike: which to take, and which others would do as well.

What a way does is worked out on 128 guesses at the exhaust. Other guesses would shift the scores of
two places far apart by 0.3 dB against each other, and the shares cured by 0.05 (standard deviation
over five draws, four cars). So small a lead says nothing of the car, and a builder's reasons
decide: less tube, then nearer the collector.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from analysis.exhaust.bench import Trials

# judgement: two standard deviations of the score; moves the outcome by at most as much
_ALIKE_DB = 0.6
# judgement: one standard deviation, a wrong cure costs more than a decibel; moves the cases cured
# by at most as much
_ALIKE_SHARE = 0.05
# judgement: nobody moves a branch to save less tube; moves the length by at most as much
_ALIKE_M = 0.02


class Option(Protocol):
    """A way to build and what it does in the guesses: score (lower is better), share cured."""

    @property
    def trials(self) -> Trials:
        """One row."""

    @property
    def score_db(self) -> float:
        """Softened worst case, lower is better."""

    @property
    def cured_share(self) -> float:
        """Share of the guesses that it cures."""


_O = TypeVar("_O", bound=Option)


def alike(options: Sequence[_O]) -> list[_O]:
    """Give those of ``options``, one or more, as good as the best; the one to build comes first."""
    close = _lowest(options, lambda option: option.score_db, _ALIKE_DB)
    as_good = _lowest(close, lambda option: -option.cured_share, _ALIKE_SHARE)
    short = _lowest(as_good, lambda option: float(option.trials.length_m.sum()), _ALIKE_M)
    first = min(short, key=lambda option: tuple(option.trials.place[0]))
    return [first, *(option for option in as_good if option is not first)]


def _lowest(options: Sequence[_O], value: Callable[[_O], float], margin: float) -> list[_O]:
    limit = min(map(value, options)) + margin
    return [option for option in options if value(option) <= limit]
