"""Wait until the disk itself holds a file or the names in a folder."""
# SPDX-License-Identifier: GPL-2.0-or-later

import importlib
import os
import sys
from pathlib import Path


def sync_handle(handle: int) -> None:
    """Wait for an open file; on macOS ``fsync`` alone leaves it in the disk's own cache.

    Source: fsync(2) of macOS, which names F_FULLFSYNC; not every file system there has it.

    Raises
    ------
    OSError
        The disk is full or gone.
    """
    if sys.platform == "darwin":
        fcntl = importlib.import_module("fcntl")
        try:
            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
        except OSError:  # a network share or a stick in another format
            os.fsync(handle)
    else:
        os.fsync(handle)


def sync_folder(folder: Path) -> None:
    """Wait for the names in a folder; without it a new file may be gone after a power cut."""
    if sys.platform == "win32":  # a folder cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
