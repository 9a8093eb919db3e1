"""The live screen: everything is on it, and it fits, whatever the terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
import math
from dataclasses import replace

import pytest
from rich.console import Console

from logger.recording.coverage import CoverageWatch
from logger.recording.status import DeviceState, Light, Status
from logger.screen.before_the_drive import CAUTIONS
from logger.screen.big_digits import ROWS, big_digits
from logger.screen.live_screen import Ink, draw, live_screen
from logger.screen.plain_lines import PlainLines

HINT = "Ctrl-C saves and stops, m marks a moment"
ASCII = Ink(full="#", empty=".", light="*", here="v", heights=".:+##")
TROUBLE = "the adapter does not answer; check that the ignition is on and the plug sits tight"


def watch() -> CoverageWatch:
    driven = CoverageWatch((1500.0, 2500.0))
    for step in range(300):
        rpm = 1500.0 + 2.0 * step
        driven.note("road_speed_m_s", 0.1 * step, rpm / 70.0)
        driven.note("rpm", 0.1 * step, rpm)
    return driven


STATUS = Status(
    elapsed_s=3754.0,
    level_db=-20.4,
    peak_db=-12.0,
    full_scale_db=0.0,
    level_unit="dB re full scale",
    is_too_loud=False,
    rpm=2143.0,
    road_speed_m_s=25.0,
    devices=(
        DeviceState(name="sound", light=Light.GOOD, readings_per_s=None, words=""),
        DeviceState(name="obd:auto", light=Light.LOST, readings_per_s=0.0, words=TROUBLE),
        DeviceState(name="gps:COM4", light=Light.WAITING, readings_per_s=0.0, words=""),
    ),
    disk_left_s=41 * 3600.0,
    trouble_count=1,
    last_trouble=TROUBLE,
    mark_count=2,
    coverage=watch().look(),
)


def lines_of(status: Status, columns: int = 80, rows: int = 24, ink: Ink = ASCII) -> list[str]:
    return draw(status, ink, columns, rows, HINT).plain.split("\n")


@pytest.mark.parametrize("elapsed_s", [3.0, 3754.0], ids=["new", "going"])
@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 30), (64, 20), (200, 60)])
def test_it_fits(columns: int, rows: int, elapsed_s: float) -> None:
    lines = lines_of(replace(STATUS, elapsed_s=elapsed_s), columns, rows)
    assert len(lines) <= rows
    assert max(map(len, lines)) <= columns


def test_everything_is_on_it() -> None:
    text = "\n".join(lines_of(STATUS))
    for words in (
        "recording 1:02:34",
        "disk for 41 h",
        "marks 2",
        "good    sound",
        "lost    obd:auto  the adapter does not answer",
        "waiting gps:COM4",
        "dB re full scale",
        "1500",
        "2000",
        "Next: Sweep 2,100 to 2,500 rpm once, slowly, in top gear.",
        "Trouble: the adapter does not answer",
    ):
        assert words in text, words
    for row in (*big_digits("2143", "#"), *big_digits("-20", "#")):
        assert row.rstrip() in text


def test_seconds_and_gears_stand_below_their_engine_speed() -> None:
    lines = lines_of(STATUS, 120, 30)
    at = next(n for n, line in enumerate(lines) if "engine speeds covered" in line)
    _, here, strip, seconds, gears, scale = lines[at : at + 6]
    assert here.index("v") == 2 + 5 * 6 + 2  # 2,143 rpm in the seventh bin, 43 % of its 5 columns
    assert strip == "  " + 30 * "#" + 20 * "."
    # 600 rpm in 30 s: 5 s for each 100 rpm
    assert seconds.split() == ["5"] * 6
    assert gears.split() == ["1"] * 6
    assert scale.index("2000") == 2 + 5 * 5


def test_all_cautions_are_read_before_the_drive_on_the_smallest_usual_terminal() -> None:
    text = " ".join(" ".join(lines_of(replace(STATUS, elapsed_s=1.0))).split())
    for caution in CAUTIONS:
        assert caution in text
    assert CAUTIONS[0] not in " ".join(" ".join(lines_of(STATUS)).split())


@pytest.mark.parametrize(("columns", "rows"), [(40, 24), (80, 10), (10, 3), (1, 1)])
def test_a_small_terminal_gets_a_few_words(columns: int, rows: int) -> None:
    text = draw(STATUS, ASCII, columns, rows, HINT).plain
    assert len(text) <= columns * rows
    assert text == draw(STATUS, ASCII, 60, 19, HINT).plain[: columns * rows]
    assert "3754 s  2143 rpm".startswith(text.strip()[:15])


def test_silence_no_rpm_and_too_loud() -> None:
    quiet = replace(STATUS, level_db=-math.inf, peak_db=-math.inf, rpm=None, coverage=None)
    text = "\n".join(lines_of(quiet))
    assert "no rpm" in text
    assert "Sound alone is recorded" in text
    loud = "\n".join(lines_of(replace(STATUS, is_too_loud=True, peak_db=-0.2)))
    assert "TOO LOUD: lower the input level" in loud


def test_the_reason_of_a_device_with_a_long_name_is_read_and_the_name_told_once() -> None:
    name = "obd:/dev/serial/by-id/usb-maker_of_adapters_with_a_long_name-if00-port0"
    words = f"{name} does not answer any more; plug it in again"
    lost = DeviceState(name=name, light=Light.LOST, readings_per_s=0.0, words=words)
    lines = lines_of(replace(STATUS, devices=(lost,), last_trouble=""), 80, 24)
    (line,) = (line for line in lines if "lost" in line)
    assert "if00-port0  does not answer any more; plug it in" in line
    assert "by-id" not in line


def test_many_devices_do_not_push_the_rest_away() -> None:
    many = tuple(replace(STATUS.devices[2], name=f"serial:{n}") for n in range(9))
    text = "\n".join(lines_of(replace(STATUS, devices=many)))
    assert "and 5 more" in text
    assert "Next: " in text


def test_calibrated_levels_fill_the_same_bar() -> None:
    calibrated = replace(
        STATUS, level_db=103.6, peak_db=112.0, full_scale_db=124.0, level_unit="dB SPL"
    )
    bars = [next(line for line in lines_of(s) if "peak" in line) for s in (STATUS, calibrated)]
    assert bars[0] == bars[1]
    assert "dB SPL" in "\n".join(lines_of(calibrated))


def test_glyphs_are_of_one_size() -> None:
    rows = big_digits("0123456789- ", "#")
    assert len(rows) == ROWS
    assert len({len(row) for row in rows}) == 1
    assert len({big_digits(digit, "#") for digit in "0123456789"}) == 10


def test_a_terminal_without_blocks_gets_none() -> None:
    plain = Console(file=io.TextIOWrapper(io.BytesIO(), encoding="ascii"))
    assert Ink.of(plain) == ASCII
    "".join(lines_of(STATUS, ink=Ink.of(plain))).encode("ascii")


def show_and_stop(console: Console) -> None:
    with live_screen(console, HINT) as screen:
        screen(STATUS)
        raise KeyboardInterrupt


def test_the_terminal_is_given_back() -> None:
    out = io.StringIO()
    console = Console(file=out, force_terminal=True, width=80, height=24)
    with pytest.raises(KeyboardInterrupt):
        show_and_stop(console)
    shown = out.getvalue()
    # DEC private modes 1049 (alternate screen) and 25 (cursor): xterm control sequences
    assert (
        shown.index("\x1b[?1049h") < shown.index("recording 1:02:34") < shown.index("\x1b[?1049l")
    )
    assert shown.rindex("\x1b[?25h") > shown.rindex("\x1b[?25l")


def test_plain_lines_say_what_comes_next_once() -> None:
    out = io.StringIO()
    lines = PlainLines(Console(file=out, width=80))
    for second in range(3):
        lines.show(replace(STATUS, elapsed_s=float(second)))
    assert out.getvalue().count("Next: Sweep 2,100 to 2,500 rpm once, slowly") == 1
