"""Trouble met while recording, in words: alike troubles summed up, with what they mean here."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.drive import Trouble
from analysis.words.quantities import seconds
from analysis.words.sentences import sentence


@dataclass(frozen=True, slots=True)
class _Kind:
    what: str  # summed up: "<what> 14 times"
    so_what: str  # what it means for the result


_LEFT_OUT = "Those stretches are left out."
_NO_SPEED = "Sound without engine speed is left out."
_KINDS = {
    "sound_lost": _Kind("Sound was lost", _LEFT_OUT),
    "microphone_lost": _Kind("The microphone was lost", _LEFT_OUT),
    "microphone_refused": _Kind("The microphone was back but could not be used", _LEFT_OUT),
    "microphone_changed": _Kind(
        "Another microphone was put in its place", "Levels before and after do not go together."
    ),
    "sound_pace": _Kind(
        "The sound came too fast or too slow", "Frequencies and times may be off by as much."
    ),
    "sound_changed": _Kind(
        "The sound changed within a moment, as by another microphone or a hand on it",
        "If it was so, levels before and after do not go together.",
    ),
    "sound_repeated": _Kind(
        "The sound system gave sound twice", "What came twice is in the result once."
    ),
    "no_signal": _Kind("The microphone gave silence", "Nothing can be found there."),
    "interrupted": _Kind("The recording broke off", "The result rests on what was saved."),
    "voice_codec": _Kind("A voice codec kept the sound", "Do not cut metal on it."),
    "telemetry_lost": _Kind("A source of engine or road speed was lost", _NO_SPEED),
    "telemetry_garbled": _Kind(
        "A source sent what makes no sense", "That was thrown away, and nothing made up for it."
    ),
    "telemetry_damaged": _Kind(
        "Many lines of a source were damaged",
        "They were left out; some that look right may be too.",
    ),
    "telemetry_silent": _Kind("A source of engine or road speed sent nothing", _NO_SPEED),
    "telemetry_late": _Kind("A source answered too late", _NO_SPEED),
    "telemetry_no_rpm": _Kind("The adapter gave no rpm", _NO_SPEED),
    "telemetry_no_fix": _Kind(
        "The satellite receiver gave no speed",
        "Without road speed, engine and road may not be told apart.",
    ),
    "pulse_channel_missing": _Kind("The channel of the pulses was missing", _NO_SPEED),
    "pulses_per_turn_unknown": _Kind("The pulses for each turn were not known", _NO_SPEED),
    "pulses_per_turn_doubtful": _Kind(
        "The pulses for each turn were wrong", "Its engine speeds are wrong."
    ),
    "telemetry_rows_dropped": _Kind(
        "Telemetry rows were unusable", "The result rests on the others."
    ),
    "laptop_slept": _Kind("The laptop slept", "What was driven meanwhile is not in the result."),
    "stood_still": _Kind(
        "The laptop was too busy or slept", "What was driven meanwhile may not be in the result."
    ),
    "wall_clock_changed": _Kind("The clock was set", "The result does not depend on it."),
    "disk_full": _Kind("The disk was full", "The result rests on what was saved until then."),
    "disk_lost": _Kind("The disk failed", "The result rests on what was saved until then."),
    "details_refused": _Kind(
        "The file with the details could not be written", "The result does not depend on it."
    ),
    "rpm_left_out": _Kind(
        "Rpm of a further source was left out", "The result rests on the source named first."
    ),
    "source_ended": _Kind(
        "A source of engine or road speed ended",
        "From then on the result rests on what the others gave.",
    ),
}


def trouble_lines(trouble: Sequence[Trouble]) -> tuple[str, ...]:
    """One line for each kind of trouble, in the order in which they first came.

    A single trouble keeps its own words; several are counted and their lengths added up.
    """
    alike: dict[str, list[Trouble]] = {}
    for each in by_time(trouble):
        alike.setdefault(each.code, []).append(each)
    return tuple(_line(code, group) for code, group in alike.items())


def by_time(trouble: Sequence[Trouble]) -> tuple[Trouble, ...]:
    """In order of their beginning; those that have none come last."""
    return tuple(
        sorted(trouble, key=lambda each: math.inf if each.start_s is None else each.start_s)
    )


def _line(code: str, group: list[Trouble]) -> str:
    kind = _KINDS.get(code)
    first = group[0]
    if len(group) == 1:
        said = f"{_when(first)}{sentence(first.message)}"
    else:
        what = code.replace("_", " ") if kind is None else kind.what
        said = f"{what} {len(group):,} times{_in_all(group)}{_first(first)}. The first: "
        said = f"{said[0].upper()}{said[1:]}{sentence(first.message)}"
    return said if kind is None else f"{said} {kind.so_what}"


def _when(trouble: Trouble) -> str:
    if trouble.start_s is None:
        return ""
    lasting = "" if trouble.duration_s is None else f", for {seconds(trouble.duration_s)}"
    return f"At {seconds(trouble.start_s)}{lasting}: "


def _in_all(group: list[Trouble]) -> str:
    known_s = [each.duration_s for each in group if each.duration_s is not None]
    return f", {seconds(sum(known_s))} in all" if known_s else ""


def _first(first: Trouble) -> str:
    return "" if first.start_s is None else f", first at {seconds(first.start_s)}"
