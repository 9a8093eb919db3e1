"""The files of a session folder: their names, and which of them may be made or replaced."""
# SPDX-License-Identifier: GPL-2.0-or-later

import os
import re
from pathlib import Path

from logger.errors import SessionError
from logger.folder.atomic import make_folders

METADATA_FILE = "session.json"
TELEMETRY_FILE = "telemetry.csv"

_AUDIO_NAME = re.compile(r"audio(-[1-9][0-9]{0,5})?\.wav")


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


def refuse_existing(out: Path) -> None:
    """Refuse a place for a recording that is taken."""
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


def refuse_taken(out: Path, *, overwrite: bool = False) -> None:
    """Refuse a place for an import that is taken; with ``overwrite`` only by what is not ours.

    Raises
    ------
    SessionError
        There is something, and it is no session, or holds more than one: it would be lost.
    """
    if not os.path.lexists(out):
        return
    if not overwrite:
        raise SessionError(f"{out} exists already; choose another folder, or give --overwrite")
    is_folder = out.is_dir() and not out.is_symlink()
    names = sorted(item.name for item in out.iterdir()) if is_folder else []
    if METADATA_FILE not in names:
        raise SessionError(f"{out} is not a session folder, so it is not replaced; choose another")
    files = [each.name for each in out.iterdir() if each.is_file() and not each.is_symlink()]
    foreign = [name for name in names if not is_own_name(name) or name not in files]
    if foreign:
        raise SessionError(
            f"{out} also holds {foreign[0]}, which is no part of a session, so it is not "
            "replaced; move that away, or choose another folder"
        )
