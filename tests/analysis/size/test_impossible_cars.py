"""A car that cannot be is refused in one sentence, and an odd one is sized with a warning."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest

from analysis.errors import SizingError
from analysis.exhaust.car import parse_car
from analysis.size.from_findings import request_for_frequency
from analysis.size.request import SizingRequest

PIPE = {"kind": "pipe", "length": "1.8 m", "inner_diameter": "60.2 mm"}


def asked(
    sections: tuple[dict[str, str], ...] = (PIPE, PIPE),
    driving_range_rpm: tuple[int, int] = (1200, 3600),
    **gas: str,
) -> SizingRequest:
    """A drone of order 3 at 2,240 rpm on this car."""
    told = {f"{name}_gas_temperature": text for name, text in gas.items()}
    car = parse_car(
        {
            "engine": {"cylinders": 6, "driving_range_rpm": list(driving_range_rpm)},
            "exhaust": {**told, "section": list(sections)},
        }
    )
    return request_for_frequency(frequency_hz=112.0, engine_order=3.0, car=car)


@pytest.mark.parametrize(
    ("gas", "says"),
    [
        ({"branch": "480 degC", "inlet": "450 degC"}, "in a branch, 480"),
        ({"branch": "900 degC", "inlet": "450 degC"}, "in a branch, 900"),
        ({"inlet": "-59 degC", "outlet": "-59 degC"}, "at the collector is told at most -59"),
        ({"outlet": "10 degC"}, "at the outlet is told at most 10"),
    ],
)
@pytest.mark.parametrize("sections", [(), (PIPE, PIPE)])
def test_gas_that_cannot_be_is_refused(
    gas: dict[str, str], says: str, sections: tuple[dict[str, str], ...]
) -> None:
    with pytest.raises(SizingError, match="check the gas temperatures") as caught:
        asked(sections, (1200, 3600), **gas)
    assert says in str(caught.value).replace("−", "-")


def test_gas_that_can_be_is_not_refused() -> None:
    told = asked(inlet="450 degC", outlet="200 degC", branch="300..460 degC")
    assert told.branch_gas_k is not None
    assert asked(inlet="450 degC", outlet="450 degC").line is not None


def test_a_driving_range_without_the_drone_is_refused() -> None:
    with pytest.raises(SizingError, match="driving_range_rpm"):
        asked(driving_range_rpm=(2800, 3600))
    assert asked(driving_range_rpm=(2300, 3600)).line is not None  # the drone reaches into it


@pytest.mark.parametrize(
    ("section", "code"),
    [
        ({**PIPE, "length": "15 m"}, "whole_length"),
        ({"kind": "chamber", "length": "0.5 m", "inner_diameter": "800 mm"}, "wide_shell"),
        ({"kind": "muffler", "length": "9 m", "inner_diameter": "200 mm"}, "whole_length"),
    ],
)
def test_sizes_that_hardly_any_car_has_are_said(section: dict[str, str], code: str) -> None:
    assert code in {doubt.code for doubt in asked((PIPE, section, PIPE)).doubts}


def test_a_usual_car_is_not_called_odd() -> None:
    muffler = {"kind": "muffler", "length": "0.45 m", "inner_diameter": "180 mm"}
    assert asked((PIPE, muffler, PIPE), inlet="450 degC", outlet="200 degC").doubts == ()
