"""Where people do what a sentence tells them: at the command line, or on the desk's screens.

Sentences name commands and options. For somebody at the desk the same sentences name its screens
and fields. That holds for a block of code and what it calls, as the units shown do.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from analysis.words.shown import as_shown

# Commands and options, and what stands for them on the desk; whole phrases where a sentence would
# limp without.
_ON_THE_DESK = {
    ", or let pipenote compare --write-car do it,": (
        ", or let “Keep the gas found in the branch”, under Prove, do it,"
    ),
    'Write the pipes as [[exhaust.leg]] in the car file, from = "bank 1" and from = "bank 2", or '
    'from = "all" if it is one, and size again': (
        "Say under Car how the pipes run, and size again"
    ),
    "or write it as outside_diameter": "or write “outside” behind it",
    "compare it with the first": "compare the two under Prove",
    "compare it with this one": "compare the two under Prove",
    "describe the exhaust in a car file": "describe the exhaust under Car",
    "and make this page again": "and size again",
    "run: pipenote report SESSION --car car.toml --out report.html": "size with that car.",
    "--band with its number in pipenote find sizes": "“Which drone”, under More wishes, sizes",
    "join it to a log of rpm with pipenote import": "bring it in once more with a log of rpm",
    "join the sound to a log of rpm with pipenote import --audio FILE --telemetry FILE": (
        "bring it in once more with a log of rpm"
    ),
    "record again with --rpm obd:auto or pulse:2": (
        "record again with rpm from an OBD-II adapter or an ignition pickup"
    ),
    "record again with --rpm obd:auto": "record again with rpm from an OBD-II adapter",
    "say in the car file how far out from the pipe there is room (beside, under [room])": (
        "say how far out there is room, under Car or in “Room beside the pipe”"
    ),
    "run pipenote check": "press “Try the devices first”",
    "pipenote car": "Car on the desk",
    "pipenote check": "“Try the devices first”",
    "pipenote compare": "Prove on the desk",
    "pipenote find": "“Find the drone”",
    "pipenote import": "Bring in",
    "pipenote record": "Record",
    "pipenote size": "“Size the branch”",
    "--angle": "“Angle of branch to pipe”",
    "--band": "“Which drone”",
    "--baseline": "“Against which”",
    "--bend-radius": "“Radius of the bends you can buy”",
    "--branches": "“How many branches”",
    "--built": "“Branches as built”",
    "--car": "“Car”",
    "--channel": "“Channel”",
    "--cylinders": "“Cylinders”",
    "--gas-temperature": "“Gas in the branch”",
    "--idle-rpm": "“Idle of the warm engine”",
    "--longest-branch": "“Room for a branch”",
    "--no-can": "“Plain tube only”",
    "--pipe-diameter": "“Inner diameter of the pipe”",
    "--room": "“Room beside the pipe”",
    "--rpm-at": "“One rpm at one moment”",
    "--started": "“Started”",
    "--tail-channel": "“Tail channel”",
    "--tube": "“Tube you have”",
    "--wall": "“Wall of the pipe”",
}
# longest first, so that a phrase counts before the words in it; a sentence may begin with one
_NAMED = re.compile(
    "|".join(
        rf"(?<![\w-]){re.escape(each)}(?![\w-])" if each[0] != "," else re.escape(each)
        for each in sorted(_ON_THE_DESK, key=len, reverse=True)
    ),
    re.IGNORECASE,
)
_BY_LOWER = {each.lower(): words for each, words in _ON_THE_DESK.items()}
_COLUMN_OR_UNIT = re.compile(r"--([a-z]+(?:-[a-z]+)*)-(column|unit|order|weighting)\b")
_IS_AT_DESK = ContextVar("is at the desk", default=False)


@contextmanager
def at_the_desk() -> Iterator[None]:
    """Name screens and fields while this block runs."""
    before = _IS_AT_DESK.set(True)
    try:
        yield
    finally:
        _IS_AT_DESK.reset(before)


def here(text: str) -> str:
    """Give a text as it is told where its reader is, in the units shown."""
    return in_desk_words(text) if _IS_AT_DESK.get() else as_shown(text)


def in_desk_words(text: str) -> str:
    """Name screens and fields of the desk where a text names commands and options.

    What it has in both units is told in those shown.
    """
    named = _NAMED.sub(_on_the_desk, as_shown(text))
    return _COLUMN_OR_UNIT.sub(_field, named)


def _on_the_desk(found: re.Match[str]) -> str:
    words = _BY_LOWER[found[0].lower()]
    return words[0].upper() + words[1:] if found[0][0].isupper() else words


def _field(found: re.Match[str]) -> str:
    """Name a field of what is brought in, as its form does."""
    return f"“{f'{found[1]} {found[2]}'.replace('-', ' ').capitalize()}”"
