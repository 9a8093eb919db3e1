"""The whole loop on a car of another physics: one branch, a drive, the second at the kept place."""
# SPDX-License-Identifier: GPL-2.0-or-later

from tests.benchmarks.worlds.__main__ import run_car
from tests.worlds.draw import WORLDS


def test_the_second_branch_is_asked_for_at_the_kept_place_and_does_what_is_foretold() -> None:
    """Some 4 s: sized, driven and compared on the whole exhaust, which nothing else does here."""
    (world,) = (world for world in WORLDS if world.name == "one pipe")
    row = run_car(world, 7047, branches=1)
    assert row is not None
    now, adjusted = row.plan_percent
    assert now < 50 < adjusted
    (got,), (then,) = row.got, row.then
    assert got.drone_db > -11.0
    assert row.adjustment == "added"
    assert (row.branches, row.in_the_end) == (1, 2)
    assert then.is_cured
    assert then.drone_db < got.drone_db - 3.0
    assert row.adjusted_held
