"""What differs between two car files, said once and short."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from copy import deepcopy
from typing import Any

from analysis.compare.car_changes import car_changes

CAR: dict[str, Any] = {
    "engine": {"cylinders": 6, "driving_range_rpm": [1200, 3600]},
    "exhaust": {
        "outlet_gas_temperature": "200 degC",
        "section": [
            {"kind": "pipe", "length": "1.60 m"},
            {"kind": "chamber", "length": "0.45 m"},
        ],
    },
}


def changed() -> dict[str, Any]:
    return deepcopy(CAR)


def test_the_same_car_has_no_changes() -> None:
    assert car_changes(CAR, changed()) == ()


def test_without_a_car_file_nothing_is_said() -> None:
    assert car_changes(None, CAR) == ()
    assert car_changes(CAR, None) == ()


def test_a_value_is_told_with_what_it_was() -> None:
    car = changed()
    car["exhaust"]["section"][1]["length"] = "0.60 m"
    car["engine"]["driving_range_rpm"] = [1000, 3600]
    assert car_changes(CAR, car) == (
        "engine driving range rpm 1000 to 3600, was 1200 to 3600",
        "exhaust section 2 length 0.60 m, was 0.45 m",
    )


def test_what_comes_and_goes_is_told() -> None:
    car = changed()
    del car["exhaust"]["outlet_gas_temperature"]
    car["room"] = {"longest_branch": "1.1 m"}
    assert car_changes(CAR, car) == (
        "exhaust outlet gas temperature no longer given, was 200 degC",
        "room longest branch 1.1 m",
    )


def test_a_new_section_and_many_changes_stay_short() -> None:
    car = changed()
    car["exhaust"]["section"].append({"kind": "pipe", "length": "2.0 m"})
    assert car_changes(CAR, car) == (
        "number of exhaust sections 3, was 2",
        "exhaust section 3 kind pipe",
        "exhaust section 3 length 2.0 m",
    )
    assert car_changes({}, CAR)[-1] == "and 4 more in the car file"
