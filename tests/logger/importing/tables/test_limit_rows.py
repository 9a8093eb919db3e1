"""Rows of limits are left out, and first readings that look a little like them are not."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest

from logger.importing.tables.limit_rows import limit_row_count

DRIVE = [["0", "850", "0"], ["0.1", "870", "0"], ["0.2", "900", "1"]] + [
    [f"{0.3 + 0.1 * at:.1f}", str(930 + 20 * at), str(1 + at)] for at in range(20)
]


@pytest.mark.parametrize(
    "limits",
    [
        [["0", "8000", "250"]],
        [["0", "0", "0"], ["9999", "8000", "250"]],
        [["1000", "10000", "300"]],
        [["", "0", "0"], ["", "8000", "250"]],  # without a time they are no rows anyway
    ],
)
def test_limits_are_counted(limits: list[list[str]]) -> None:
    assert limit_row_count([*limits, *DRIVE]) == (len(limits) if limits[0][0] else 0)


@pytest.mark.parametrize(
    "first",
    [
        [],
        [["-0.1", "0", "0"]],  # the engine was off, or had not answered yet
        [["-0.1", "8000", "250"]],  # wrong, but with a time of its own
        [["0", "850", "0"]],  # the same moment twice
    ],
)
def test_readings_are_kept(first: list[list[str]]) -> None:
    assert limit_row_count([*first, *DRIVE]) == 0


def test_a_count_of_few_rows_tells_nothing() -> None:
    assert limit_row_count([["0", "8000"], ["0", "850"], ["1", "860"]]) == 0
