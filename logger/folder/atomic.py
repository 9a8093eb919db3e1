"""A file or a folder appears whole or not at all, and never replaces what is not ours."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import errno
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from logger.errors import SessionError
from logger.folder.disk_sync import sync_folder, sync_handle

if sys.platform != "win32":
    import fcntl

# judgement: a virus scanner holds a new file for less than the 2 s that these make; the last try's
# error is told, so nothing is lost by fewer.
_RENAME_TRIES = 20
_RENAME_PAUSE_S = 0.1


@contextmanager
def new_folder(out: Path, *, refuse_taken: Callable[[Path], None]) -> Iterator[Path]:
    """Give a temporary sibling of ``out`` to fill; on leaving it becomes ``out``.

    ``refuse_taken`` raises where what is there must not be replaced.

    Raises
    ------
    SessionError
        ``out`` must not be replaced, or the disk refuses; nothing is left behind.
    """
    refuse_taken(out)
    made_parents = make_folders(out.parent)
    temporary: Path | None = None
    try:
        temporary = Path(tempfile.mkdtemp(prefix=f".{out.name}.", suffix=".part", dir=out.parent))
        with try_to_hold(temporary):
            yield temporary
        sync_folder(temporary)
        # a temporary folder lets nobody in but its maker
        temporary.chmod(0o777 & ~_umask())
        # once more: to fill it may have taken minutes
        refuse_taken(out)
        _move_into_place(temporary, out)
        sync_folder(out.parent)
    except BaseException as error:
        if temporary is not None:
            shutil.rmtree(temporary, ignore_errors=True)
        remove_empty(made_parents)
        if isinstance(error, OSError):
            raise _cannot_write(out, error) from error
        raise


@contextmanager
def try_to_hold(folder: Path) -> Iterator[bool]:
    """Hold a folder while the block runs; gives whether nobody else does, in any program.

    Always True on Windows, where a folder cannot be held, and on disks that know no locks.

    Raises
    ------
    OSError
        The folder cannot be opened.
    """
    if sys.platform == "win32":
        yield True
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            is_free = True
        except OSError as error:
            is_free = error.errno not in (errno.EWOULDBLOCK, errno.EACCES)
        yield is_free
    finally:
        os.close(handle)


def write_synced(path: Path, pieces: Iterable[bytes]) -> None:
    """Write a new file and wait until the disk has it."""
    with path.open("xb") as file:
        file.writelines(pieces)
        file.flush()
        sync_handle(file.fileno())


def replace_file(path: Path, pieces: Iterable[bytes]) -> None:
    """Write a file anew, so that at any moment the old or the new one is there, whole.

    ``pieces`` may be read from the file that is replaced.
    """
    _write_beside(path, pieces, _rename)


def create_file(path: Path, data: bytes) -> None:
    """Write a new file, whole or not at all.

    Raises
    ------
    FileExistsError
        The name is taken, even by someone who took it a moment ago.
    """
    _write_beside(path, (data,), _take_free_name)


def sync_file(path: Path) -> None:
    """Wait until the disk has the file, which another library wrote."""
    with path.open("rb+") as file:
        sync_handle(file.fileno())


def _write_beside(
    path: Path, pieces: Iterable[bytes], put_in_place: Callable[[Path, Path], None]
) -> None:
    part = path.with_name(f".{path.name}.part")
    part.unlink(missing_ok=True)  # left behind by a program that was killed
    try:
        # synced before it is renamed: else a power cut may leave the new name with an empty file
        write_synced(part, pieces)
        put_in_place(part, path)
        sync_folder(path.parent)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _take_free_name(part: Path, path: Path) -> None:
    try:
        # A hard link fails when the name is taken, even by someone who was quicker than any check.
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError as error:  # a file system without hard links, such as FAT on a USB stick
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from error
        _rename(part, path)


def make_folders(folder: Path) -> list[Path]:
    """Make a folder and what is missing above it; gives what was made, innermost first.

    Raises
    ------
    SessionError
        The disk refuses; nothing is left behind then.
    """
    missing = [each for each in (folder, *folder.parents) if not os.path.lexists(each)]
    made: list[Path] = []
    try:
        for each in reversed(missing):
            each.mkdir()
            made.insert(0, each)
    except OSError as error:
        remove_empty(made)
        raise _cannot_write(folder, error) from error
    return made


def remove_empty(folders: Iterable[Path]) -> None:
    """Remove folders, innermost first, as far as nobody uses them."""
    for folder in folders:
        with contextlib.suppress(OSError):
            folder.rmdir()


def _cannot_write(path: Path, error: OSError) -> SessionError:
    return SessionError(
        f"cannot write {path}: {error.strerror or error}; check the disk, or choose another folder"
    )


def _move_into_place(temporary: Path, out: Path) -> None:
    if not out.exists():
        _rename(temporary, out)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{out.name}.", suffix=".old", dir=out.parent))
    # only a name that is free was wanted
    old.rmdir()
    _rename(out, old)
    try:
        _rename(temporary, out)
    except OSError:
        _rename(old, out)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _rename(source: Path, target: Path) -> None:
    """Rename; on Windows a virus scanner may hold a fresh file open for a moment."""
    tries = _RENAME_TRIES if sys.platform == "win32" else 1
    for attempt in range(tries):
        try:
            source.replace(target)
        except PermissionError:
            if attempt == tries - 1:
                raise
            time.sleep(_RENAME_PAUSE_S)
        else:
            return


def _umask() -> int:
    # it can only be read by setting it
    mask = os.umask(0)
    os.umask(mask)
    return mask
