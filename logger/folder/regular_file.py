"""Read a file that somebody named, never a device or a pipe: those may not end."""
# SPDX-License-Identifier: GPL-2.0-or-later

import errno
import stat
from pathlib import Path


def read_at_most(path: Path, most_bytes: int) -> bytes:
    """Read a file; of a longer one, one byte more than asked for, which tells that it is longer.

    Raises
    ------
    OSError
        It cannot be read, or is no regular file.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise OSError(errno.EINVAL, "it is not a regular file", str(path))
    with path.open("rb") as file:
        return file.read(most_bytes + 1)
