"""What branches should do, in one sentence."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.basics.interval import Interval
from analysis.branches import Prediction
from analysis.words.foretold import foretold


def predicted(low_db: float, likely_db: float, high_db: float) -> Prediction:
    return Prediction(
        level_change_db=likely_db,
        level_change_db_range=Interval(low=low_db, high=high_db),
        elsewhere_change_db=0.0,
    )


def test_the_range_is_that_of_the_credible_cases() -> None:
    told = "about 16 dB quieter (11.0 dB at worst, 23.2 dB at best)"
    assert foretold(predicted(-23.2, -16.3, -11.0)) == told


def test_a_case_in_which_it_gets_louder_is_said() -> None:
    told = "about 3 dB quieter (1.5 dB louder at worst, 8.0 dB at best)"
    assert foretold(predicted(-8.0, -3.1, 1.5)) == told
