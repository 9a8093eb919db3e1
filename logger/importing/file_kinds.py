"""What a file is by its name: sound, a log or a car file, so that nobody need sort them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable
from pathlib import Path

from logger.errors import SessionError

# As phones, recorders and log apps name their files; common practice, no source.
SOUND_ENDINGS = (
    *("wav", "flac", "aif", "aiff", "w64", "rf64", "caf", "m4a", "m4b", "aac", "mp4", "m4v"),
    *("mov", "qt", "3gp", "3g2", "amr", "webm", "mkv", "mka", "mp3", "ogg", "oga", "opus"),
    *("wma", "asf"),
)
LOG_ENDINGS = ("csv", "txt", "log", "tsv", "dat", "asc", "json", "gpx", "nmea", "xlsx")
_CAR_ENDINGS = ("toml",)


def ending(name: str) -> str:
    """Give the ending of a file's name, in small letters and without its dot."""
    return name.rpartition(".")[2].lower()


def is_sound(path: Path) -> bool:
    """Tell whether a file is named as sound is."""
    return ending(path.name) in SOUND_ENDINGS


def is_log(path: Path) -> bool:
    """Tell whether a file is named as a log is."""
    return ending(path.name) in LOG_ENDINGS


def sorted_by_kind(files: Iterable[Path]) -> dict[str, list[Path]]:
    """Sort files into ``audio``, ``telemetry`` and ``car``, each in the order given."""
    endings = {"audio": SOUND_ENDINGS, "telemetry": LOG_ENDINGS, "car": _CAR_ENDINGS}
    by_kind: dict[str, list[Path]] = {kind: [] for kind in endings}
    for file in files:
        kind = next((kind for kind, known in endings.items() if ending(file.name) in known), None)
        if kind is None:
            raise SessionError(
                f"the name of {file} does not tell whether it is sound or a log; give it with "
                "--audio or with --telemetry"
            )
        by_kind[kind].append(file)
    return by_kind
