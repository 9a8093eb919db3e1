"""What comes out alike is settled as a builder would settle it, and the rest is told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.exhaust.bench import Trials
from analysis.size.ties import alike


@dataclass(frozen=True)
class Built:
    """One branch at place number ``place``."""

    place: int
    length_m: float
    score_db: float
    cured_share: float

    @property
    def trials(self) -> Trials:
        return Trials(
            place=np.array([[self.place]]), length_m=np.array([[self.length_m]]), bore_m=0.06
        )


def test_the_shorter_tube_wins_a_tie_and_the_other_is_told() -> None:
    near, far = Built(7, 0.86, -1.0, 0.90), Built(60, 0.75, -0.6, 0.92)
    assert alike([near, far]) == [far, near]
    assert alike([far, near]) == [far, near]


def test_of_equal_lengths_the_one_nearer_the_collector_wins() -> None:
    near, far = Built(7, 0.760, -0.7, 0.90), Built(60, 0.75, -1.0, 0.90)
    assert alike([far, near]) == [near, far]


@pytest.mark.parametrize(
    "worse", [Built(1, 0.5, 0.0, 0.90), Built(1, 0.5, -1.0, 0.80)], ids=["score", "cases cured"]
)
def test_what_is_clearly_worse_is_no_tie_however_short(worse: Built) -> None:
    best = Built(60, 0.9, -1.0, 0.90)
    assert alike([worse, best]) == [best]


@given(
    options=st.lists(
        st.builds(
            Built,
            place=st.integers(0, 80),
            length_m=st.floats(0.4, 1.5),
            score_db=st.floats(-6.0, 6.0),
            cured_share=st.floats(0.0, 1.0),
        ),
        min_size=1,
        max_size=6,
    ),
    seed=st.integers(0, 1000),
)
def test_the_order_of_trying_decides_nothing(options: list[Built], seed: int) -> None:
    shuffled = [options[i] for i in np.random.default_rng(seed).permutation(len(options))]
    first, *others = alike(options)
    again, *more = alike(shuffled)
    assert first.place == again.place
    assert sorted(map(repr, [first, *others])) == sorted(map(repr, [again, *more]))
