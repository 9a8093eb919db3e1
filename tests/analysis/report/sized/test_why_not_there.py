"""Why the best place was not taken: told where the map of places tells it, and only there."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.branches import LinePicture, Sizing
from analysis.report.sized.figure_line import line_charts
from tests.analysis.report.sized.test_line import LENGTH_M, POSITION_M, picture
from tests.analysis.report.sized_examples import branch, sizing

BEHIND = int(np.abs(POSITION_M - 3.02).argmin())  # 0.9 m is where the branch goes


def with_places(
    behind_db: float, louder_db: float, *, room: bool = True, beside_db: float = 9.0
) -> LinePicture:
    """One branch takes 5 dB off everywhere, more behind the muffler, where others get louder."""
    shape = (POSITION_M.size, LENGTH_M.size)
    drone_db, elsewhere_db = np.full(shape, -5.0), np.zeros(shape)
    drone_db[BEHIND], elsewhere_db[BEHIND] = behind_db, louder_db
    elsewhere_db[BEHIND, ::2] += 2.0  # the least of its lengths is told
    drone_db[BEHIND + 1], elsewhere_db[BEHIND + 1] = 0.8 * behind_db, beside_db
    made = picture(-5.0)
    has_room = np.full(POSITION_M.shape, True) if room else POSITION_M < 1.4
    places = replace(made.places, drone_db=drone_db, elsewhere_db=elsewhere_db, has_room=has_room)
    return replace(made, places=places)


def told(line: LinePicture) -> str:
    sized: Sizing = replace(sizing(branch(position_m=0.9)), line=line)
    return line_charts(sized)[0].summary


def test_what_gets_louder_is_told() -> None:
    said = told(with_places(-14.0, 4.0))
    assert said.endswith(
        "Behind the muffler, 3020 mm (118 7/8 in) from the collector, one branch would take more "
        "off the drone, but at any length another engine speed may get 4 dB louder."
    )


def test_no_room_is_told() -> None:
    assert told(with_places(-14.0, 0.0, room=False)).endswith(
        "but the room given does not reach there."
    )


def test_nothing_is_told_where_no_place_is_clearly_better() -> None:
    assert "would take more" not in told(with_places(-7.0, 4.0))


def test_no_reason_is_made_up_where_the_map_tells_none() -> None:
    assert "would take more" not in told(with_places(-14.0, 0.0))
    assert "would take more" not in told(with_places(-14.0, 4.0, beside_db=0.0))
