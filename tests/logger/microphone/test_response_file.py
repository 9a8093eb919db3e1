"""Response files as they come from makers, labs and spreadsheets of several countries."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.microphone.response_file import ResponseError, read_response

POINTS = ((20.0, -3.5), (100.0, -0.25), (1000.0, 0.0), (12500.5, 2.0))


def read(folder: Path, text: str | bytes) -> tuple[tuple[float, float], ...]:
    path = folder / "mic.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_response(path)


@pytest.mark.parametrize(
    "text",
    [
        "20 -3.5\n100 -0.25\n1000 0\n12500.5 2\n",
        "20\t-3.5\r\n100\t-.25\r\n1000\t0.0\r\n12500.5\t+2.\r\n",
        "20,-3.5\n100,-0.25\n1000,0\n12500.5,2",
        "20, -3.5\n100, -0.25\n1e3, 0\n1.25005E4, 2\n",
        "20; -3.5\n100; -0.25\n1000; 0\n12500.5; 2\n",
        "20 -3,5\n100 -0,25\n1000 0\n12500,5 2,0\n",
        "20;-3,5\n100;-0,25\n1000;0\n12500,5;2\n",
        "20\t-3,5\n100\t-0,25\n1000\t0,0\n12500,5\t2\n",
        "   20.0   -3.50   12.1\n  100.0   -0.25  3\n 1000 0 0\n12500.5 2 -170\n",
        "20,-3.5,12.1\n100,-0.25,3\n1000,0,0\n12500.5,2,-170\n",
        "20;-3,5;12,1\n100;-0,25;3\n1000;0;0\n12500,5;2;-170\n",
        '"gain: -12 dB, number 123"\nFreq(Hz) dB\n20 -3.5\n100 -0.25\n1000 0\n12500.5 2\n',
        "* made 2025\n# by a lab\n; 3 points\n\n20 -3.5\n100 -0.25\n* half-way\n1000 0\n12500.5 2",
        "--- microphone ---\nHz;dB\n20;-3,5\n100;-0,25\n1000;0\n12500,5;2\n",
        "\ufeff20 -3.5\n100 -0.25\n1000 0\n12500.5 2\n",
        "20 -3.5\n100 -0.25\n1000 0\n12500.5 2\n".encode("utf-16"),
        "M\xe4rz\n20 -3.5\n100 -0.25\n1000 0\n12500.5 2\n".encode("latin-1"),
    ],
)
def test_every_way_to_write_it_gives_the_same_points(tmp_path: Path, text: str | bytes) -> None:
    assert read(tmp_path, text) == POINTS


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("20 1\n20 2\n", "line 2: frequencies must rise"),
        ("Hz dB\n100 1\n\n50 2\n", "line 4: frequencies must rise"),
        ("0 1\n50 2\n", "line 1: frequencies must rise"),
        ("-20 1\n50 2\n", "line 1: frequencies must rise"),
        ("20 1\n50 nan\n", "line 2: both numbers must be finite"),
        ("20 1\n50 -inf\n", "line 2: both numbers must be finite"),
        ("20 1\n50 1e999\n", "line 2: both numbers must be finite"),
        ("20 1\n", "1 lines of numbers"),
        ("* nothing\nfrequency level\n", "0 lines of numbers"),
        ("20 1\n50 94\n", "line 2: 94 dB is more than any microphone is off"),
        ("20 1\nabout here\n50 2\n", "line 2: a frequency in Hz and dB must stand here"),
        ("20 1\n50\n60 2\n", "line 2: a frequency in Hz and dB must stand here"),
        ("20 x\n50 1\n60 2\n", "line 1: a frequency in Hz and dB must stand here"),
        ("20.5 -3,5\n30.5 -3,0\n", "line 1: a frequency in Hz and dB must stand here"),
        ("1.000,5 2\n2.000,5 2\n", "line 1: a frequency in Hz and dB must stand here"),
        ("", "is empty"),
        (bytes(range(256)) * 9, "is not a text file"),
    ],
)
def test_nonsense_is_refused_with_its_line(tmp_path: Path, text: str | bytes, words: str) -> None:
    with pytest.raises(ResponseError, match=words) as refusal:
        read(tmp_path, text)
    assert "\n" not in str(refusal.value)


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(ResponseError, match="cannot read"):
        read_response(tmp_path / "none.txt")


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.integers(1, 400_000), st.integers(-400, 400)), min_size=2, max_size=30),
    st.sampled_from([" ", "\t", ";", " ; ", ", ", ","]),
    st.booleans(),
)
def test_what_is_written_is_read(
    tmp_path_factory: pytest.TempPathFactory,
    steps: list[tuple[int, int]],
    separator: str,
    decimal_comma: bool,
) -> None:
    """Decimal comma and comma between numbers exclude each other; everything else goes."""
    points, hz = [], 0
    for step, tenths in steps:
        hz += step
        points.append((hz / 10.0, tenths / 10.0))
    text = "\n".join(f"{a:.1f}{separator}{b:.1f}" for a, b in points)
    if decimal_comma and "," not in separator:
        text = text.replace(".", ",")
    assert read(tmp_path_factory.mktemp("response"), text) == tuple(points)


def test_a_line_of_very_many_digits_takes_no_longer_than_others(tmp_path: Path) -> None:
    """Over a minute each where the pattern tries every way to part them."""
    lines = "\n".join(f"{at}{'9' * 90_000}x 1" for at in (1, 2, 3))
    with pytest.raises(ResponseError, match="line 1"):
        read(tmp_path, lines)
