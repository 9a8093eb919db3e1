"""What branches do to each drone and to the rest in every guess, and how good that is."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.basics.cure import CURED_DB, ELSEWHERE_DB

WORST = 0.9  # quantile of the guesses: the worst case; judgement: one in ten may be worse

# judgement: what the model and the steps of frequency leave out; how near to the worst guess others
# count; and what a decibel beyond the cure is worth. Larger ones make fewer places count as sure,
# and weigh the mean case against the worst. 20 % more of _SOFT_DB moves a length by 14 mm and the
# outlook by 0.4 dB, of the others nothing.
_TO_SPARE_DB = 0.7  # for what the model, and the steps of frequency, leave out
_SOFT_DB = 3.0  # guesses within this of the worst one count nearly like it
_MORE_IS_BETTER = 0.15  # weight of a mean decibel beyond the cure
_LINE_DB = 1.0  # how near to the line between cured and not a guess counts partly as both


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Change of the highest level of each drone, [shape=(n_drones, n_trials, n_members)], and rest.

    ``elsewhere_db`` [shape=(n_trials, n_members)] is that of the rest.
    """

    drones_db: FloatArray
    elsewhere_db: FloatArray

    @property
    def drone_db(self) -> FloatArray:
        """That of the drone which changes least, [shape=(n_trials, n_members)]."""
        return np.asarray(self.drones_db.max(axis=0))

    @property
    def short_of_cure_db(self) -> FloatArray:
        """How far each is from a sure cure; negative is cured with that much to spare."""
        short = np.maximum(self.drone_db - CURED_DB, self.elsewhere_db - ELSEWHERE_DB)
        return np.asarray(short + _TO_SPARE_DB)

    @property
    def cured_share(self) -> FloatArray:
        """Share of the guesses that are cured, [shape=(n_trials,)]."""
        return np.asarray(np.mean(self.short_of_cure_db <= 0.0, axis=1))

    @property
    def is_cured(self) -> BoolArray:
        """Which are cured with nothing to spare, [shape=(n_trials, n_members)]."""
        return np.asarray(self.short_of_cure_db <= _TO_SPARE_DB)

    @property
    def odds(self) -> FloatArray:
        """Share of the guesses that are cured with nothing to spare, [shape=(n_trials,)].

        What the model leaves out may as well help: so many cars are cured, though not so surely.
        """
        return np.asarray(np.mean(self.is_cured, axis=1))

    @property
    def soft_odds(self) -> FloatArray:
        """As :attr:`odds`, but guesses near the line count in part: a search needs a slope."""
        return np.asarray(np.mean(expit((_TO_SPARE_DB - self.short_of_cure_db) / _LINE_DB), axis=1))

    @property
    def score_db(self) -> FloatArray:
        """Softened worst case, lower is better, [shape=(n_trials,)]."""
        # clipped, so that one hopeless or splendid guess does not decide alone
        short = np.clip(self.short_of_cure_db, -12.0, 30.0) / _SOFT_DB
        # a smooth maximum: a walk needs to see that the second worst guess got better as well
        worst = _SOFT_DB * np.log(np.mean(np.exp(short), axis=1))
        return np.asarray(worst + _MORE_IS_BETTER * self.drone_db.mean(axis=1))


def outcome_between(before_db: FloatArray, after_db: FloatArray, parts: BoolArray) -> Outcome:
    """Compare the highest level in each part, before and after; -inf where a part is empty.

    ``before_db`` [shape=(n_members, n_frequency)], ``after_db`` [shape=(n_trials, n_members,
    n_frequency)], ``parts`` [shape=(n_drones + 1, n_frequency)]: each drone, then the rest.
    """
    *drones_db, elsewhere_db = (
        # the loudest speed may be another one afterwards
        after_db[..., part].max(axis=-1) - before_db[:, part].max(axis=-1)
        if part.any()
        else np.full(after_db.shape[:2], -np.inf)
        for part in parts
    )
    return Outcome(drones_db=np.array(drones_db), elsewhere_db=elsewhere_db)
