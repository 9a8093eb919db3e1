"""What an import that was killed left behind: found, told apart from one at work, and cleared."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import shutil
import sys
import time
from pathlib import Path

from logger.folder.atomic import try_to_hold
from logger.folder.names import is_own_name

# As tempfile makes them for new_folder: eight of these signs between the name and the ending.
_PART = re.compile(r"\..+\.[a-z0-9_]{8}\.part")
# judgement: an import at work writes each second. On Windows a folder cannot be held, so there an
# import counts as killed only when it wrote nothing for a day.
_QUIET_S = 86_400.0 if sys.platform == "win32" else 60.0


def clear_leftovers(parent: Path) -> tuple[str, ...]:
    """Clear folders that killed imports left in ``parent``; gives a sentence for each.

    Only what bears our name, holds nothing but files of a session and is in nobody's hands.
    """
    told = []
    try:
        found = sorted(path for path in parent.iterdir() if _PART.fullmatch(path.name))
    except OSError:
        return ()
    for path in found:
        try:
            size_bytes = _abandoned_bytes(path)
        except OSError:  # it is gone, or somebody else's
            continue
        if size_bytes is None:
            continue
        shutil.rmtree(path, ignore_errors=True)
        what = f"{path}, {size_bytes / 1e6:,.0f} MB that an import left behind when it was killed"
        told.append(f"Could not clear {what}." if path.exists() else f"Cleared {what}.")
    return tuple(told)


def rest_of_the_old(out: Path) -> tuple[str, ...]:
    """Tell what could not be deleted of the session that ``out`` replaced."""
    ending = re.compile(re.escape(f".{out.name}.") + r"[a-z0-9_]{8}\.old")
    left = sorted(path for path in out.parent.iterdir() if ending.fullmatch(path.name))
    return tuple(
        f"What {out.name} held before could not be deleted whole; the rest is in {path}."
        for path in left
    )


def _abandoned_bytes(folder: Path) -> int | None:
    """Give the size of a folder that nobody works on; None for any other."""
    if folder.is_symlink() or not folder.is_dir():
        return None
    files = list(folder.iterdir())
    if not all(is_own_name(file.name) and file.is_file() for file in files):
        return None
    facts = [path.stat() for path in (folder, *files)]
    if time.time() - max(fact.st_mtime for fact in facts) < _QUIET_S:
        return None
    with try_to_hold(folder) as is_free:
        return sum(file.stat().st_size for file in files) if is_free else None
