"""Metric, inch or both: a wish holds for all that is said while it runs, and for nothing after."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.basics.units import parse_length_m
from analysis.words import lengths, quantities
from analysis.words.shown import Units, showing

# 702.4 mm is 27.654 in, 27 5/8 in on a tape; 140 degC is 284 degF; 20 m/s is 72 km/h, 44.7 mph
SAID: list[tuple[Callable[[], str], str, str, str]] = [
    (lambda: lengths.length(0.7024), "702 mm (27 5/8 in)", "702 mm", "27 5/8 in"),
    (lambda: lengths.both(0.7024), "702.4 mm (27 21/32 in)", "702.4 mm", "27 21/32 in"),
    (
        lambda: lengths.all_three(0.7024),
        "702.4 mm = 27.65 in (27 21/32 in)",
        "702.4 mm",
        "27.65 in (27 21/32 in)",
    ),
    (lambda: lengths.diameter(0.0602), "60.2 mm (2.37 in)", "60.2 mm", "2.37 in"),
    (lambda: lengths.caliper(0.0635), "63.50 mm (2.500 in)", "63.50 mm", "2.500 in"),
    (lambda: lengths.rough_length(1.047), "1050 mm (41 in)", "1050 mm", "41 in"),
    (lambda: lengths.rough_length(4.02), "4.02 m (158 in)", "4.02 m", "158 in"),
    (lambda: lengths.told_length(0.0635), "64 mm", "64 mm", "2 1/2 in"),
    (lambda: lengths.longer_by(0.0254), "+25 mm", "+25 mm", "+1 in"),
    (lambda: quantities.temperature_both(413.15), "140 °C (284 °F)", "140 °C", "284 °F"),
    (lambda: quantities.road_speed_both(20.0), "72 km/h, 45 mph", "72 km/h", "45 mph"),
]


@pytest.mark.parametrize(("say", "both", "metric", "inch"), SAID)
def test_what_is_asked_for_is_shown(
    say: Callable[[], str], both: str, metric: str, inch: str
) -> None:
    assert say() == both
    for units, told in ((Units.METRIC, metric), (Units.INCH, inch), (Units.BOTH, both)):
        with showing(units):
            assert say() == told
    assert say() == both


def test_a_wish_ends_with_what_failed() -> None:
    with pytest.raises(RuntimeError), showing(Units.INCH):
        raise RuntimeError
    assert lengths.length(0.7024) == "702 mm (27 5/8 in)"


@given(st.floats(0.05, 1.5))
def test_inches_to_cut_by_are_within_the_half_millimetre_that_a_print_is_checked_to(
    length_m: float,
) -> None:
    with showing(Units.INCH):
        assert parse_length_m(lengths.both(length_m)) == pytest.approx(length_m, abs=0.5e-3)


# what is written into a file, or names a tube as it is sold, is no sentence
IN_ONE_UNIT = (
    "analysis/words/",
    "analysis/describe/piece.py",
    "analysis/build/workshop/stock_parts.py",
)


def test_no_sentence_makes_its_own_millimetres() -> None:
    """A length that goes around `analysis.words` is shown in millimetres whatever was chosen."""
    own = re.compile(r"\{[^{}]*\b1e3 \*[^{}]*\} ?mm\b|ZERO_C_K[^{}]*\} ?degC")
    house = Path(__file__).resolve().parents[3]
    places = [
        f"{file.relative_to(house).as_posix()}: {found[0]}"
        for room in ("analysis", "logger")
        for file in sorted((house / room).rglob("*.py"))
        for found in own.finditer(file.read_text(encoding="utf-8"))
    ]
    assert [place for place in places if not place.startswith(IN_ONE_UNIT)] == []
    assert places  # what is looked for is there to be found
