"""The files of a session folder: their names, and the facts of their sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

import os
import re
from dataclasses import dataclass
from pathlib import Path

from logger.errors import AudioError, SessionError
from logger.folder.atomic import make_folders
from logger.folder.sound_reading import SoundFacts, read_sound_facts

METADATA_FILE = "session.json"
TELEMETRY_FILE = "telemetry.csv"

_AUDIO_NAME = re.compile(r"audio(-[1-9][0-9]{0,5})?\.wav")


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionAudio:
    """The sound files of one session, in order, and what they have in common.

    ``sample_rate_hz`` is None without sound; ``was_cut`` is true when a header does not fit its
    file.
    """

    files: tuple[Path, ...]
    sample_rate_hz: float | None
    channel_count: int
    frame_count: int
    was_cut: bool


def audio_file_name(number: int) -> str:
    """Name of the sound file with this number, counted from 1."""
    return "audio.wav" if number == 1 else f"audio-{number}.wav"


def is_own_name(name: str) -> bool:
    """Tell whether a session has files of this name."""
    return name in (METADATA_FILE, TELEMETRY_FILE) or _AUDIO_NAME.fullmatch(name) is not None


def is_of_a_session(file: Path) -> bool:
    """Tell whether a file, there or not, would be one of a session's own."""
    name = file.name.casefold()  # as file systems that know no capitals
    is_in_one = name == METADATA_FILE or (file.parent / METADATA_FILE).exists()
    return is_own_name(name) and is_in_one


def audio_files(folder: Path) -> tuple[Path, ...]:
    """List the sound files of a session, up to the first number that is missing."""
    files: list[Path] = []
    while (file := folder / audio_file_name(len(files) + 1)).is_file():
        files.append(file)
    return tuple(files)


def read_audio(folder: Path) -> SessionAudio:
    """Look at the headers of a session's sound files.

    Raises
    ------
    SessionError
        A file cannot be read, or the files do not belong together.
    """
    files: list[Path] = []
    facts: list[SoundFacts] = []
    was_cut = False
    for file in audio_files(folder):
        try:
            fact = read_sound_facts(file)
        except AudioError as error:
            if file.stat().st_size >= 44:  # less: killed before it wrote a whole header
                raise SessionError(str(error)) from error
            was_cut = True
            continue
        files.append(file)
        facts.append(fact)
    if not facts:
        return SessionAudio(
            files=(), sample_rate_hz=None, channel_count=0, frame_count=0, was_cut=was_cut
        )
    _check_same_kind(folder, facts)
    return SessionAudio(
        files=tuple(files),
        sample_rate_hz=facts[0].sample_rate_hz,
        channel_count=facts[0].channel_count,
        frame_count=sum(fact.frame_count for fact in facts),
        was_cut=was_cut or any(fact.sizes_are_wrong for fact in facts),
    )


def refuse_existing(out: Path) -> None:
    """Refuse a place for a recording that is taken.

    Raises
    ------
    SessionError
        There is something.
    """
    if os.path.lexists(out):
        raise SessionError(
            f"{out} exists already and a recording never replaces anything; choose another --out"
        )


def make_recording_folder(out: Path) -> list[Path]:
    """Make a new folder and what is missing above it; gives the latter, innermost first.

    Raises
    ------
    SessionError
        It exists, or cannot be made; nothing is left behind then.
    """
    refuse_existing(out)
    made = make_folders(out)
    if out not in made:  # somebody made it a moment ago
        refuse_existing(out)
    return made[1:]


def refuse_unless_session(folder: Path) -> None:
    """Refuse a folder that is no session, or holds more than a session.

    Raises
    ------
    SessionError
        Replacing this folder would delete what is not ours.
    """
    names = sorted(item.name for item in folder.iterdir())
    if METADATA_FILE not in names:
        raise SessionError(
            f"{folder} is not a session folder, so it is not replaced; choose another"
        )
    foreign = [name for name in names if not is_own_name(name) or not _is_plain(folder / name)]
    if foreign:
        raise SessionError(
            f"{folder} also holds {foreign[0]}, which is no part of a session, so it is not "
            "replaced; move that away, or choose another folder"
        )


def _is_plain(item: Path) -> bool:
    return item.is_file() and not item.is_symlink()


def _check_same_kind(folder: Path, facts: list[SoundFacts]) -> None:
    kinds = {(fact.sample_rate_hz, fact.channel_count) for fact in facts}
    if len(kinds) > 1:
        raise SessionError(
            f"the sound files of {folder} differ in rate or channels, so they are not one drive; "
            "import each one by itself"
        )
