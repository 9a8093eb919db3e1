"""What a car can have of each quantity, and what it never has."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest

from logger.folder.quantities import COLUMNS, LIMITS, is_in_range


@pytest.mark.parametrize(  # answers of all ones, by the formulas of SAE J1979
    ("quantity", "all_ones"),
    [
        ("rpm", 0xFFFF / 4),
        ("road_speed_m_s", 0xFF / 3.6),
        ("manifold_pressure_kpa", 0xFF),
        ("coolant_temperature_degc", 0xFF - 40),
        ("catalyst_temperature_degc", 0xFFFF / 10 - 40),
    ],
)
def test_an_answer_of_all_ones_is_no_value(quantity: str, all_ones: float) -> None:
    assert not is_in_range(quantity, all_ones)


def test_every_column_but_time_has_limits() -> None:
    assert set(LIMITS) == set(COLUMNS) - {"time_s"}


def test_a_fast_car_with_much_boost_is_in_range() -> None:
    """300 km/h, 3 bar absolute, 9,000 rpm: common practice, no source."""
    assert is_in_range("road_speed_m_s", 300 / 3.6)
    assert is_in_range("manifold_pressure_kpa", 300.0)
    assert is_in_range("rpm", 9000.0)
