"""The recording as a screen to glance at: rpm and level large, lights, coverage, what to do next.

It fills the terminal while the recording runs and gives it back afterwards, so that what is said
at the end stands below what was there before. Nobody needs a key. Where the terminal is small, one
line stands for all; where it knows no block characters, ``#`` does for them.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import math
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from rich.console import Console
from rich.live import Live
from rich.text import Text

from logger.recording.coverage import BIN_RPM, ENOUGH_S, Coverage, CoveredBin
from logger.recording.status import DeviceState, Light, Status
from logger.screen.before_the_drive import CAUTIONS
from logger.screen.big_digits import ROWS, big_digits
from logger.screen.plain_lines import LITTLE_DISK_S, status_line

# judgement: layout of the screen, nothing recorded depends on it.
_LEAST_COLUMNS, _LEAST_ROWS = 64, 20
_MARGIN = "  "
_QUIETEST_DB = -60.0  # of the bar
_LONGEST_NAME = 24  # judgement: of a device; 48 columns of 80 are left for what is wrong with it
_MOST_DEVICES = 4
_SCALE_RPM = 500.0
_CAUTIONS_S = 20.0
_WIDEST_BIN = 5
_SECONDS_FROM_WIDTH = 3
_COLOURS = {Light.GOOD: "green", Light.WAITING: "yellow", Light.LOST: "bold red"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """What the terminal can draw with."""

    full: str
    empty: str
    light: str
    here: str
    heights: str  # of a bin from none to enough for two gears

    @staticmethod
    def of(console: Console) -> "Ink":
        """Blocks where the terminal has them."""
        if console.options.ascii_only or console.legacy_windows:
            return Ink(full="#", empty=".", light="*", here="v", heights=".:+##")
        return Ink(full="█", empty="░", light="●", here="▼", heights="·▂▄▆█")


@contextmanager
def live_screen(console: Console, hint: str) -> Iterator[Callable[[Status], None]]:
    """Take the terminal, and give it back however this ends; gives what draws a status on it."""
    live = Live(Text("waiting for sound"), console=console, screen=True, auto_refresh=False)
    ink = Ink.of(console)

    def show(status: Status) -> None:
        columns, rows = console.size  # as large as the terminal is now
        live.update(draw(status, ink, columns, rows, hint), refresh=True)

    live.start()
    try:
        yield show
    finally:
        with contextlib.suppress(OSError):  # the window was closed
            live.stop()


def draw(status: Status, ink: Ink, columns: int, rows: int, hint: str) -> Text:
    """Lay out a status on so many columns and rows."""
    if columns < _LEAST_COLUMNS or rows < _LEAST_ROWS:
        return Text(f"{status_line(status)}\n{_advice(status)}"[: max(columns, 1) * max(rows, 1)])
    room = columns - 2 * len(_MARGIN)
    is_new = status.elapsed_s < _CAUTIONS_S
    air = [Text()] if rows >= (30 if is_new else 24) else []
    lines = [
        _top(status, hint, room),
        *air,
        *_numbers(status, ink),
        *air,
        _level_bar(status, ink, room),
        *_devices(status, ink, room),
        *air,
        *(_cautions(room) if is_new else _what_next(status, ink, room)),
    ]
    return Text("\n").join(Text(_MARGIN).append(line) for line in lines[:rows])


def _cautions(room: int) -> list[Text]:
    """Stand where coverage will, while there is none."""
    return [Text("Before you set off", style="bold")] + [
        line for caution in CAUTIONS for line in _wrapped("-", caution, room, "", most_lines=3)
    ]


def _what_next(status: Status, ink: Ink, room: int) -> list[Text]:
    return [
        *_coverage(status, ink, room),
        Text(),
        *_wrapped("Next:", _advice(status), room, "bold"),
        *_wrapped("Trouble:", status.last_trouble, room, "red"),
    ]


def _top(status: Status, hint: str, room: int) -> Text:
    minutes, seconds = divmod(int(status.elapsed_s), 60)
    hours, minutes = divmod(minutes, 60)
    left = Text(f"recording {hours}:{minutes:02d}:{seconds:02d}", style="bold")
    disk_style = "bold red" if status.disk_left_s < LITTLE_DISK_S else "not bold"
    left.append(f"   disk {_disk(status.disk_left_s)}", style=disk_style)
    if status.mark_count:
        left.append(f"   marks {status.mark_count}", style="not bold")
    if status.trouble_count:
        left.append(f"   trouble {status.trouble_count}", style="not bold")
    gap = room - left.cell_len - len(hint)
    return left.append(" " * gap + hint, style="dim") if gap >= 3 else left


def _disk(left_s: float) -> str:
    if math.isinf(left_s):
        return "not known yet"
    if left_s >= 2.0 * 3600.0:
        return f"for {left_s / 3600.0:.0f} h"
    return f"full in {left_s / 60.0:.0f} min"


def _numbers(status: Status, ink: Ink) -> list[Text]:
    rpm = "   -" if status.rpm is None else f"{min(status.rpm, 99_999.0):4.0f}"
    level = "  -" if math.isinf(status.level_db) else f"{status.level_db:3.0f}"
    left, right = big_digits(rpm, ink.full), big_digits(level, ink.full)
    width = len(left[0]) + 6
    lines = [Text(left[row].ljust(width), style="bold").append(right[row]) for row in range(ROWS)]
    no_rpm = "rpm" if status.rpm is not None else "no rpm"
    return [*lines, Text(no_rpm.ljust(width)).append(status.level_unit)]


def _level_bar(status: Status, ink: Ink, room: int) -> Text:
    loud = "  TOO LOUD: lower the input level" if status.is_too_loud else ""
    label = "peak  "
    width = max(10, min(60, room - len(label) - len(loud)))
    top_db = status.full_scale_db
    share = (status.peak_db - top_db - _QUIETEST_DB) / -_QUIETEST_DB
    filled = round(width * min(max(share, 0.0), 1.0)) if math.isfinite(share) else 0
    style = "bold red" if status.is_too_loud else "green"
    bar = Text(label).append(ink.full * filled, style=style)
    return bar.append(ink.empty * (width - filled), style="dim").append(loud, style="bold red")


def _devices(status: Status, ink: Ink, room: int) -> list[Text]:
    shown = status.devices[:_MOST_DEVICES]
    lines = [_device(device, ink, room) for device in shown]
    more = len(status.devices) - len(shown)
    return [*lines, Text(f"and {more} more", style="dim")] if more else lines


def _device(device: DeviceState, ink: Ink, room: int) -> Text:
    line = Text().append(f"{ink.light} {device.light.value:8}", style=_COLOURS[device.light])
    line.append(_short(device.name))
    if device.readings_per_s is not None and device.light is Light.GOOD:
        line.append(f"  {device.readings_per_s:.0f} readings a second", style="dim")
    if device.words:
        line.append(f"  {device.words.removeprefix(device.name).strip()}")
    line.truncate(room, overflow="crop")
    return line


def _short(name: str) -> str:
    """Keep the end of a long name: ports differ there, and the reason must fit behind it."""
    return name if len(name) <= _LONGEST_NAME else f"...{name[3 - _LONGEST_NAME :]}"


def _coverage(status: Status, ink: Ink, room: int) -> list[Text]:
    coverage = status.coverage
    if coverage is None:
        return [Text("Sound alone is recorded; find works the rpm out from it.", style="dim")]
    wide = max(1, min(_WIDEST_BIN, room // len(coverage.bins)))
    bins = coverage.bins[: room // wide]
    strip, seconds, gears = Text(), Text(), Text()
    for each in bins:
        sign = ink.heights[_height(each, ink)]
        strip.append(sign * wide, style="green" if each.is_covered else "yellow")
        seconds.append((f"{each.seconds:.0f}"[-3:] if each.seconds >= 0.5 else "").center(wide))
        gears.append((f"{each.gears}" if each.gears else "").center(wide))
    title = "engine speeds covered: seconds; gears"
    if not coverage.knows_gears:
        title = "engine speeds covered: seconds; gears are not known without road speed"
    return [
        Text(title, style="dim"),
        Text(_here(status.rpm, coverage, wide, ink)),
        strip,
        *([seconds] if wide >= _SECONDS_FROM_WIDTH else []),
        *([gears] if coverage.knows_gears else []),
        Text(_scale(bins, wide, room), style="dim"),
    ]


def _height(each: CoveredBin, ink: Ink) -> int:
    highest = len(ink.heights) - 1
    if each.seconds == 0.0:
        return 0
    return max(1, min(highest, int(highest * each.seconds / (2.0 * ENOUGH_S))))


def _here(rpm: float | None, coverage: Coverage, wide: int, ink: Ink) -> str:
    place = -1.0 if rpm is None else (rpm - coverage.bins[0].low_rpm) / BIN_RPM
    return " " * int(place * wide) + ink.here if 0.0 <= place < len(coverage.bins) else ""


def _scale(bins: tuple[CoveredBin, ...], wide: int, room: int) -> str:
    signs = [" "] * room
    for index, each in enumerate(bins):
        text = f"{each.low_rpm:.0f}"
        at = index * wide
        if each.low_rpm % _SCALE_RPM == 0.0 and at + len(text) <= room:
            signs[at : at + len(text)] = text
    return "".join(signs).rstrip()


def _advice(status: Status) -> str:
    if status.coverage is not None:
        return status.coverage.advice
    return "Drive slowly up and down through the noisy engine speed, in two gears."


def _wrapped(label: str, words: str, room: int, style: str, *, most_lines: int = 2) -> list[Text]:
    """Break words into a few lines, with a label before the first."""
    lines = textwrap.wrap(words, max(room - len(label) - 1, 1))[:most_lines]
    labels = [label, *[" " * len(label)] * len(lines)]
    return [
        Text(f"{at} ").append(line, style=style) for at, line in zip(labels, lines, strict=False)
    ]
