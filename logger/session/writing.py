"""A new session folder, written whole or not at all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from logger.folder.atomic import new_folder, sync_file, write_synced
from logger.folder.names import METADATA_FILE, TELEMETRY_FILE, audio_files, refuse_unless_session
from logger.folder.telemetry_file import encode_telemetry
from logger.session.metadata import SessionMetadata, encode_metadata


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionContent:
    """What goes into a new session folder.

    Attributes
    ----------
    telemetry : pandas.DataFrame or None
        The columns of :class:`analysis.drive.Drive`; None when there is none.
    write_audio : callable or None
        Called with the folder; writes ``audio.wav`` (then ``audio-2.wav``, ...) into it.
    """

    metadata: SessionMetadata
    telemetry: pd.DataFrame | None = None
    write_audio: Callable[[Path], None] | None = None


def write_session(out: Path, content: SessionContent, *, overwrite: bool = False) -> None:
    """Write a new session folder, whole or not at all.

    Raises
    ------
    SessionError
        ``out`` exists, or cannot be written.
    """
    metadata = encode_metadata(content.metadata)
    telemetry = None if content.telemetry is None else encode_telemetry(content.telemetry)
    with new_folder(out, check_replaceable=refuse_unless_session if overwrite else None) as folder:
        if content.write_audio is not None:
            content.write_audio(folder)
            for file in audio_files(folder):
                sync_file(file)
        if telemetry is not None:
            write_synced(folder / TELEMETRY_FILE, (telemetry,))
        write_synced(folder / METADATA_FILE, (metadata,))
