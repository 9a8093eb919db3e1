"""A page, a sheet or a car file that a person asked for: refused early, written whole."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable
from pathlib import Path

from logger.errors import OutputError
from logger.folder.atomic import create_file, replace_file

_PAGE_SUFFIXES = frozenset({".html", ".htm"})


def refuse_out(
    out: Path | None, inputs: Iterable[Path | None] = (), *, overwrite: bool = False
) -> None:
    """Refuse a file before any work is done for it; without ``out`` there is nothing to refuse.

    ``inputs`` are never written over, ``overwrite`` or not. A page may lie in a session folder
    among them.

    Raises
    ------
    OutputError
        ``out`` is a folder, in none, an input or part of one, or exists without ``overwrite``.
    """
    if out is None:
        return
    where = out.resolve()
    for source in filter(None, inputs):
        is_inside = source.resolve() in where.parents and out.suffix.lower() not in _PAGE_SUFFIXES
        if is_inside or where == source.resolve():
            raise OutputError(f"{out} is part of {source}, which is read here; choose another name")
    if not out.parent.is_dir():
        raise OutputError(f"cannot write {out}: there is no folder {out.parent}; make it first")
    if out.is_dir():
        raise OutputError(f"{out} is a folder; give a file name")
    if not overwrite and out.exists():
        raise _exists(out)


def write_whole(out: Path, data: bytes, *, overwrite: bool = False) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    OutputError
        ``out`` is a folder, exists and ``overwrite`` is not set, or cannot be written.
    """
    refuse_out(out, overwrite=overwrite)
    try:
        if overwrite:
            replace_file(out, (data,))
        else:
            create_file(out, data)
    except FileExistsError as error:
        raise _exists(out) from error
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError(f"cannot write {out}: {why}; choose a folder you can write to") from error


def write_page(out: Path, page: str, *, overwrite: bool = False) -> None:
    """Write a page as :func:`write_whole` does; what a path has that is no text becomes a ``?``."""
    write_whole(out, page.encode("utf-8", "replace"), overwrite=overwrite)


def _exists(out: Path) -> OutputError:
    return OutputError(f"{out} exists already; choose another name or give --overwrite")
