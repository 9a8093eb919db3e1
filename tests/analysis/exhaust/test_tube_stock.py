"""Stock tube: sizes are common practice with no source; bores follow from outside and wall."""
# SPDX-License-Identifier: GPL-2.0-or-later

import pytest

from analysis.branches import Tube
from analysis.errors import QuantityError
from analysis.exhaust.tube_stock import (
    INCH_TUBES,
    METRIC_TUBES,
    parse_tube,
    slides_over,
    sold_by_outside,
)


@pytest.mark.parametrize(
    ("name", "bore_mm"),
    # 16 gauge (0.065 in): outside less two walls, worked by hand.
    [("1.5 in", 34.80), ("1.875 in", 44.32), ("2 in", 47.50), ("2.25 in", 53.85), ("3 in", 72.90)],
)
def test_bores_of_inch_tube(name: str, bore_mm: float) -> None:
    (tube,) = [tube for tube in INCH_TUBES if tube.name.startswith(f"{name} x")]
    assert 1e3 * tube.inner_diameter_m == pytest.approx(bore_mm, abs=0.006)


@pytest.mark.parametrize("tube", INCH_TUBES + METRIC_TUBES, ids=lambda tube: tube.name)
def test_every_name_reads_back_as_its_tube(tube: Tube) -> None:
    read = parse_tube(tube.name)
    assert read.outer_diameter_m == pytest.approx(tube.outer_diameter_m)
    assert read.wall_m == pytest.approx(tube.wall_m)


def test_a_wall_may_be_said_by_its_gauge() -> None:
    # Birmingham wire gauge 18 is 0.049 in: from memory.
    assert parse_tube("2 in x 18 ga").wall_m == pytest.approx(0.049 * 0.0254)


def test_a_width_that_is_an_inside_too_is_not_taken_for_an_outside() -> None:
    # 2 in less two walls of 0.049 in is 1.902 in, as wide as 48.3 mm pipe is outside: ISO 4200
    assert sold_by_outside(1.902 * 0.0254) is None
    assert sold_by_outside(0.0603) is not None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2 in",
        "2 x 0.065",
        "2 in x 1 in",
        "2 in x 0.065 in x 1 m",
        "2 in x 9 ga",
        "1 m x 2 mm",
        "x",
    ],
)
def test_what_is_not_tube_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_tube(text)


@pytest.mark.parametrize(
    ("tube", "over"),
    [
        # by hand: 2 in less two walls of 18 gauge, 0.049 in, is 1.902 in inside
        ("1.875 in x 0.065 in", "2 in x 18 gauge"),
        ("60 mm x 1.5 mm", "63.5 mm x 1.5 mm"),  # 60.5 mm inside
        ("2.25 in x 0.065 in", None),  # only 2.5 in of 11 gauge, too stiff for a clamp
        ("4 in x 0.065 in", None),
        ("101.6 mm x 1.5 mm", None),
    ],
)
def test_a_sleeve_is_stock_that_slides_over_with_a_small_gap(tube: str, over: str | None) -> None:
    found = slides_over(parse_tube(tube))
    assert (None if found is None else found.name) == over


def test_every_sleeve_has_a_gap_of_a_tenth_to_one_millimetre() -> None:
    # bounds: common practice, no source
    sleeves = [(tube, slides_over(tube)) for tube in INCH_TUBES + METRIC_TUBES]
    gaps_mm = [
        1e3 * (over.inner_diameter_m - tube.outer_diameter_m) for tube, over in sleeves if over
    ]
    assert gaps_mm
    assert all(0.1 <= round(gap_mm, 3) <= 1.0 for gap_mm in gaps_mm)
