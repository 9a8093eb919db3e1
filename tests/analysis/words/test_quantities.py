"""Numbers as a builder reads them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.drive import Engine
from analysis.words import quantities as words
from analysis.words.lengths import diameter, length
from analysis.words.sentences import listed, sentence, typeset

# One inch is 25.4 mm exactly: NIST SP 811, table of conversion factors.
METRES_PER_INCH = 0.0254


@pytest.mark.parametrize(
    ("length_m", "text"),
    [
        (0.702, "702 mm (27 5/8 in)"),  # 27.638 in
        (0.0254, "25 mm (1 in)"),
        (0.0032, "3 mm (1/8 in)"),
        (-0.0127, "-13 mm (-1/2 in)"),
        (1.0, "1000 mm (39 3/8 in)"),
    ],
)
def test_a_length_has_both_units(length_m: float, text: str) -> None:
    # Python rounds 12.7 to 13 and 39.370 in is 39 6/16 in to the nearest sixteenth.
    assert length(length_m) == text


def test_a_bore_has_both_units() -> None:
    assert diameter(0.0539) == "53.9 mm (2.12 in)"


@pytest.mark.parametrize(
    ("kelvin", "text"),
    # Fixed points of both scales: ice, boiling water, and -40 where they meet.
    [(273.15, "0 °C (32 °F)"), (373.15, "100 °C (212 °F)"), (233.15, "-40 °C (-40 °F)")],
)
def test_a_temperature_has_both_scales(kelvin: float, text: str) -> None:
    assert words.temperature_both(kelvin) == text


def test_numbers_carry_their_units_and_signs() -> None:
    assert words.rpm(2243.0) == "2,240 rpm"
    assert words.hertz(112.04) == "112 Hz"
    assert words.hertz(66.67) == "66.7 Hz"
    assert words.change(-14.2) == "-14.2 dB"
    assert words.change(1.25) in ("+1.2 dB", "+1.3 dB")
    assert words.change(-0.04) == "0.0 dB"
    assert words.change(float("nan")) == "not known"
    assert words.duration(725.0) == "12 min 5 s"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("changes by only -3.1 dB", "Changes by only −3.1\u00a0dB."),
        ("from -12 to -3 dB; 2010-2490 rpm", "From −12 to −3\u00a0dB; 2010-2490\u00a0rpm."),
        ("obd:auto gave no answer", "obd:auto gave no answer."),
        ("say --band 2, or -2", "Say --band 2, or −2."),
    ],
)
def test_sentences_get_true_minus_signs_on_the_page(text: str, shown: str) -> None:
    assert typeset(sentence(text)) == shown


def test_an_interval_says_quieter_or_louder() -> None:
    assert words.quieter_between(-15.6, -12.9) == "between 12.9 and 15.6 dB quieter"
    assert words.quieter_between(0.5, 2.0) == "between 0.5 and 2.0 dB louder"
    assert words.quieter_between(-1.0, 1.4) == "between 1.0 dB quieter and 1.4 dB louder"


@pytest.mark.parametrize(
    ("order", "cylinders", "name"),
    [
        (3.0, 6, "order 3 (firing)"),
        (2.0, 4, "order 2 (firing)"),
        (8.0, 8, "order 8 (twice firing)"),
        (1.5, 6, "order 1.5 (half the firing order)"),
        (2.5, 6, "order 2.5"),
    ],
)
def test_orders_have_plain_names(order: float, cylinders: int, name: str) -> None:
    # A four-stroke fires each cylinder once in two revolutions, so N/2 times in one.
    assert words.order_name(order, Engine(cylinders=cylinders)) == name


def test_an_order_of_an_unknown_engine_is_not_called_firing() -> None:
    assert words.order_name(3.0, None) == "order 3"


def test_a_number_stays_with_its_unit() -> None:
    assert typeset("at 112 Hz, 27 5/8 in") == "at 112\u00a0Hz, 27\u00a05/8\u00a0in"
    assert typeset("3 passes") == "3 passes"
    pushed = "branch 2 in by 38 mm"
    assert typeset(pushed) == "branch\u00a02 in by 38\u00a0mm"


@given(st.text())
def test_setting_changes_nothing_but_spaces_and_minus_signs(text: str) -> None:
    def plain(words: str) -> str:
        return words.replace("\u00a0", " ").replace("−", "-")

    assert plain(typeset(text)) == plain(text)


def test_lists_read_as_sentences() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert sentence("drive again") == "Drive again."
    assert sentence("did it?") == "Did it?"
