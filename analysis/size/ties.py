"""Ways to build that come out alike: which to take, and which others would do as well.

What a way does is worked out on 128 guesses at the exhaust. Other guesses would shift the scores of
two places far apart by 0.3 dB against each other, and the shares cured by 0.05 (standard deviation
over five draws, four cars). So small a lead says nothing of the car, and a builder's reasons
decide: less tube, then nearer the collector.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from analysis.bench.exhaust_bench import Trials
from analysis.bench.outcome import Outcome

# judgement: two standard deviations of the score; moves the score by at most as much
_SCORE_DB = 0.6
# judgement: one standard deviation, for a missed cure costs most; moves the share by no more
_CURED_SHARE = 0.05
# judgement: less than anybody hears in a drive; moves the foretold change by at most as much
_DRONE_DB = 1.0
# judgement: too little tube to move a branch for; moves the length by at most as much
_LENGTH_M = 0.02


class Option(Protocol):
    """A way to build and what it does in the guesses, one row each."""

    @property
    def trials(self) -> Trials:
        """Places and lengths."""

    @property
    def outcome(self) -> Outcome:
        """Change of the levels."""

    @property
    def tube_m(self) -> float:
        """How much tube it takes."""


_O = TypeVar("_O", bound=Option)


def alike(options: Sequence[_O]) -> list[_O]:
    """Give those of ``options``, one or more, as good as the best; the one to build comes first."""
    as_good = _lowest(options, lambda option: float(option.outcome.score_db[0]), _SCORE_DB)
    as_good = _lowest(as_good, lambda option: -float(option.outcome.cured_share[0]), _CURED_SHARE)
    as_good = _lowest(as_good, lambda option: float(option.outcome.drone_db.mean()), _DRONE_DB)
    short = _lowest(as_good, lambda option: option.tube_m, _LENGTH_M)
    first = min(short, key=lambda option: tuple(option.trials.place[0]))
    return [first, *(option for option in as_good if option is not first)]


def _lowest(options: Sequence[_O], value: Callable[[_O], float], margin: float) -> list[_O]:
    limit = min(map(value, options)) + margin
    return [option for option in options if value(option) <= limit]
