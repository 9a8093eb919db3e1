"""Import: files recorded elsewhere in, a session folder and an account of it out."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from logger.importing.request import ImportRequest, ImportSummary


def import_session(
    request: ImportRequest,
    out: Path,
    *,
    overwrite: bool = False,
    progress: Callable[[float], None] | None = None,
) -> ImportSummary:
    """Make a session folder from files recorded elsewhere.

    Parameters
    ----------
    request : ImportRequest
    out : Path
        The session folder to make.
    overwrite : bool
        Replace a session that is there, once the new one is complete.
    progress : callable or None
        Called with the finished fraction, 0..1, while sound is copied.

    Raises
    ------
    LoggerError
        Anything that cannot be used or decided, with one line that says what to do. Nothing is
        left behind then.
    """
    raise NotImplementedError
