"""What comes out alike is settled as a builder would settle it, and the rest is told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
from dataclasses import dataclass, replace

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.answers.sizing_document import sizing_document
from analysis.bench.exhaust_bench import Trials
from analysis.bench.outcome import Outcome
from analysis.size.gains import other_places
from analysis.size.ties import alike
from tests.analysis.report.sized_examples import branch, sizing
from tests.result_schemas import result_schema


@dataclass(frozen=True)
class Built:
    """One branch at place number ``place``; in so many of 100 guesses the drone changes so."""

    place: int
    length_m: float
    drone_db: float
    cured: int = 90
    elsewhere_db: float = 0.0

    @property
    def trials(self) -> Trials:
        return Trials(
            place=np.array([[self.place]]), length_m=np.array([[self.length_m]]), bore_m=0.06
        )

    @property
    def tube_m(self) -> float:
        return self.length_m

    @property
    def outcome(self) -> Outcome:
        """The others only just miss."""
        drone_db = np.where(np.arange(100) < self.cured, self.drone_db, -10.6)
        return Outcome(
            drones_db=drone_db[np.newaxis, np.newaxis],
            elsewhere_db=np.full((1, 100), self.elsewhere_db),
        )


def test_the_shorter_tube_wins_a_tie_and_the_other_is_told() -> None:
    near, far = Built(7, 0.86, -14.2), Built(60, 0.75, -13.8, cured=92)
    assert alike([near, far]) == [far, near]
    assert alike([far, near]) == [far, near]


def test_of_equal_lengths_the_one_nearer_the_collector_wins() -> None:
    near, far = Built(7, 0.760, -13.8), Built(60, 0.75, -14.2)
    assert alike([far, near]) == [near, far]


@pytest.mark.parametrize(
    ("best", "worse"),
    [
        (Built(60, 0.9, -14.0), Built(1, 0.5, -14.0, elsewhere_db=2.0)),
        (Built(60, 0.9, -11.0), Built(1, 0.5, -11.2, cured=80)),
        (Built(60, 0.9, -18.0), Built(1, 0.5, -15.5)),
    ],
    ids=["other engine speeds", "cases cured", "drone"],
)
def test_what_is_clearly_worse_is_no_tie_however_short(best: Built, worse: Built) -> None:
    assert alike([worse, best]) == [best]


@given(
    options=st.lists(
        st.builds(
            Built,
            place=st.integers(0, 80),
            length_m=st.floats(0.4, 1.5),
            drone_db=st.floats(-20.0, 0.0),
            cured=st.integers(0, 100),
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


def test_branches_that_are_as_good_elsewhere_are_told_in_full_and_in_words() -> None:
    elsewhere = (branch(length_m=0.8537, position_m=2.6),)
    printed = json.dumps(sizing_document(replace(sizing(), as_good=(elsewhere,))), allow_nan=False)
    document = json.loads(printed)
    jsonschema.validate(document, result_schema("size"))
    ((told,),) = document["as_good"]
    assert (told["length_mm"], told["position_mm"]) == (853.7, 2600.0)
    (said,) = other_places([elsewhere])
    assert "854 mm (33 5/8 in) long at 2.60 m (102 in) from the collector" in said
