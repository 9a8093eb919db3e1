"""A new session folder, written whole or not at all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from logger.folder.atomic import new_folder, sync_file, write_synced
from logger.folder.names import METADATA_FILE, TELEMETRY_FILE, audio_files, refuse_taken
from logger.folder.telemetry_file import encode_telemetry
from logger.session.metadata import SessionMetadata, encode_metadata

if TYPE_CHECKING:
    import pandas as pd


def write_session(
    out: Path,
    metadata: SessionMetadata,
    *,
    telemetry: pd.DataFrame | None = None,
    write_audio: Callable[[Path], None] | None = None,
    overwrite: bool = False,
) -> None:
    """Write a new session folder, whole or not at all.

    Parameters
    ----------
    telemetry : pandas.DataFrame or None
        The columns of :class:`analysis.drive.Drive`; None when there is none.
    write_audio : callable or None
        Called with the folder; writes ``audio.wav`` (then ``audio-2.wav``, ...) into it.

    Raises
    ------
    SessionError
        ``out`` exists, or cannot be written.
    """
    description = encode_metadata(metadata)
    rows = None if telemetry is None else encode_telemetry(telemetry)
    with new_folder(out, refuse_taken=partial(refuse_taken, overwrite=overwrite)) as folder:
        if write_audio is not None:
            write_audio(folder)
            for file in audio_files(folder):
                sync_file(file)
        if rows is not None:
            write_synced(folder / TELEMETRY_FILE, (rows,))
        write_synced(folder / METADATA_FILE, (description,))
