"""Command-line options that commands share, and how their values are read."""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
import json
import math
import re
import shlex
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any, NoReturn, Protocol, TypeVar

from rich.console import RenderableType

from analysis.errors import QuantityError
from logger.errors import LoggerError
from logger.screen.terminal import one_line, show

# 2 as argparse itself; 130 is 128 plus SIGINT, as POSIX shells report it; 3 is ours.
DONE, BAD_INPUT, NO_DEVICE, INTERRUPTED = 0, 2, 3, 130
# judgement: a shorter recording tells nothing; refused as a slip of the keyboard.
_LEAST_S = 0.1
_WHOLE = re.compile(r"[0-9]{1,9}")
# judgement: slower than any idle, faster than any road car; refused as a slip of the keyboard.
_LOWEST_RPM, _HIGHEST_RPM = 300.0, 16_000.0
_MOMENT = re.compile(r"((?P<minutes>[0-9]{1,4}):)?(?P<seconds>[0-9]{1,5}(\.[0-9]{1,6})?)")

_Read = TypeVar("_Read")
Row = tuple[str, Callable[[str], Any], str, str]  # name, what reads it, name of its value, help


class UsageError(LoggerError):
    """Options that do not go together."""


def quantity(option: str, text: str, read: Callable[[str], _Read]) -> _Read:
    """Read a length or temperature that an option gave; what is wrong with it names the option."""
    try:
        return read(text)
    except QuantityError as error:
        raise QuantityError(f"{option}: {error}") from error


def wished(option: str, text: str | None, read: Callable[[str], _Read]) -> _Read | None:
    """Read it as :func:`quantity` does where the option was given, and is not empty."""
    return quantity(option, text, read) if text else None


class Command(Protocol):
    """What a command's module holds: its name, what it does in a line, its options and its run."""

    NAME: str
    WHAT: str

    def add_options(self, parser: argparse.ArgumentParser) -> None:
        """Add its options."""

    def run(self, arguments: argparse.Namespace) -> int:
        """Do it, and give the exit status."""


class OneLineParser(argparse.ArgumentParser):
    """Tells a usage error in one line, with exit status 2.

    Help ends with what other packages add to the ``groups`` of entry points, by how it is typed.
    """

    groups: Mapping[str, str] = {}

    def format_help(self) -> str:
        """Give the help, and below it what other packages add."""
        added = [
            use.format(point.name)
            for group, use in self.groups.items()
            for point in sorted(entry_points(group=group), key=lambda each: each.name)
        ]
        below = f"\nAdded by other packages: {', '.join(map(one_line, added))}\n" if added else ""
        return super().format_help() + below

    def error(self, message: str) -> NoReturn:
        """Leave with the message."""
        self.exit(BAD_INPUT, f"{one_line(f'{self.prog}: {message}; see {self.prog} --help')}\n")


# --- values -------------------------------------------------------------------------------------


def _number(text: str) -> float:
    """Read a number; NaN where it is none, which lies within no limits."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def _refused(text: str, must: str) -> argparse.ArgumentTypeError:
    return argparse.ArgumentTypeError(f"{text[:40]!r} must be {must}")


def seconds(text: str) -> float:
    """Read a time that something can be recorded in."""
    value = _number(text)
    if not _LEAST_S <= value < math.inf:
        raise _refused(text, f"a number of seconds, {_LEAST_S:g} or more")
    return value


def whole_number(text: str) -> int:
    """Read a whole number from 1 up."""
    if not _WHOLE.fullmatch(text) or int(text) < 1:
        raise _refused(text, "a whole number from 1 up")
    return int(text)


def moment(text: str) -> datetime:
    """Read a date and time by ISO 8601; without an offset it is the local time of this computer."""
    try:
        value = datetime.fromisoformat(text)
        return value.astimezone(UTC)  # years 1 and 9999 may fall out of range
    except (ValueError, OverflowError, OSError) as error:
        raise _refused(text, "a date and time such as '2024-06-08 10:05'") from error


def channel_list(text: str) -> tuple[int, ...]:
    """Read channels such as ``1,2``, each once."""
    return tuple(sorted({whole_number(part.strip()) for part in text.split(",")}))


def cylinder_count(text: str) -> int:
    """Read a number of cylinders, as many as an engine may have."""
    from analysis.drive import MOST_CYLINDERS

    count = whole_number(text)
    if count > MOST_CYLINDERS:
        raise _refused(text, f"1 to {MOST_CYLINDERS} cylinders")
    return count


def engine_speed(text: str) -> float:
    """Read an engine speed that an engine can have."""
    value = _number(text)
    if not _LOWEST_RPM <= value <= _HIGHEST_RPM:
        raise _refused(text, f"an engine speed of {_LOWEST_RPM:,.0f} to {_HIGHEST_RPM:,.0f} rpm")
    return value


def known_speed(text: str) -> tuple[float, float]:
    """Read a moment and the engine speed then, such as ``1:35=2900``."""
    at, equals, rpm = text.partition("=")
    told = _MOMENT.fullmatch(at.strip())
    if not equals or told is None:
        raise _refused(text, "a time and an rpm, such as 35=2900 or 1:35=2900")
    return 60.0 * float(told["minutes"] or 0) + float(told["seconds"]), engine_speed(rpm)


# --- options ------------------------------------------------------------------------------------


def takes(read: Callable[[str], Any], metavar: str, what: str, **more: object) -> dict[str, Any]:
    """Give what argparse wants of an option with a value: its type, its name in help, and help."""
    return {"type": read, "metavar": metavar, "help": what, **more}


_SHARED: Mapping[str, Mapping[str, Any]] = {
    "session": takes(Path, "SESSION", "session folder"),
    "--overwrite": {"action": "store_true", "help": "replace what is there"},
    "--json": {"action": "store_true", "help": "print one JSON document"},
    "--car": takes(Path, "FILE", "car file (TOML)"),
    "--cylinders": takes(cylinder_count, "N", "number of cylinders"),
    "--stroke-cycle": {
        "type": int,
        "choices": (2, 4),  # by definition of the two working cycles
        "help": "strokes of that engine (default: 4)",
    },
    "--units": {
        "choices": ("both", "metric", "inch"),
        "default": "both",
        "help": "which lengths, temperatures and speeds to show (default: both)",
    },
    "--paper": {
        "choices": ("a4", "letter"),
        "help": "paper size (default: a4; with --units inch: letter)",
    },
    "--channel": takes(whole_number, "N", "channel of the sound (default: the first of the cabin)"),
    "--tail-channel": takes(
        whole_number,
        "N",
        "channel of a microphone near the tailpipe; tells what does not come out of the pipe",
    ),
    "--idle-rpm": takes(
        engine_speed, "RPM", "warm idle speed; helps find the engine speed when no rpm was logged"
    ),
    "--rpm-at": takes(
        known_speed,
        "TIME=RPM",
        "an rpm that you know, such as 35=2900 or 1:35=2900 from the start of the sound, the "
        "baseline's if there are two; settles the engine speed of a drive without rpm; may be "
        "given more than once",
        action="append",
        default=[],
    ),
    "--microphone": takes(str, "NAME_OR_INDEX", "as pipenote check lists them"),
    "--channels": takes(
        channel_list, "1,2", "channels of the microphone to take (default: the first two)"
    ),
    "--rpm": takes(
        str,
        "SOURCE",
        "obd:auto, obd:PORT, pulse:CHANNEL, serial:PORT, gps:PORT, replay:SESSION or none (the "
        "default); may be given more than once",
        action="append",
    ),
    "--microphone-response": takes(
        Path,
        "FILE",
        "one frequency (Hz) and error (dB) per line; positive where the microphone reads too loud",
    ),
}
ENGINE = ("--car", "--cylinders", "--stroke-cycle")
DRIVE = (*ENGINE, "--channel", "--idle-rpm")  # how a session is read


def add_shared(parser: argparse._ActionsContainer, *names: str) -> None:
    """Add options that commands share, in this order."""
    for name in names:
        parser.add_argument(name, **_SHARED[name])
    if "--rpm" in names:
        list_added(parser, "pipenote.sources", "--rpm {}:...")


def add(to: argparse._ActionsContainer, *rows: Row) -> None:
    """Add options that take one value, a row each."""
    for name, read, metavar, what in rows:
        to.add_argument(name, **takes(read, metavar, what))


def list_added(parser: argparse._ActionsContainer, group: str, use: str) -> None:
    """Let the help tell what other packages add to a group of entry points, and how to type it."""
    if isinstance(parser, OneLineParser):  # any other parser's help is its own
        parser.groups = {**parser.groups, group: use}


def say(arguments: argparse.Namespace, line: str) -> None:
    """Print a line for people, if there is one; with --json nothing but the document is printed."""
    if line and not getattr(arguments, "json", False):
        print(one_line(line), flush=True)


def say_next(arguments: argparse.Namespace, *words: object) -> None:
    """Print the command to type next, on the last line; with --json nothing."""
    say(arguments, f"Next: pipenote {shlex.join(map(str, words))}")


def give(arguments: argparse.Namespace, document: object, table: RenderableType) -> None:
    """Print one JSON document, or a table for people."""
    if arguments.json:
        print(json.dumps(document, allow_nan=False, indent=2))
    else:
        show(table)
