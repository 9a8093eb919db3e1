"""A page, a sheet or a car file that a person asked for: refused early, written whole."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable
from pathlib import Path

from logger.errors import OutputError
from logger.folder.atomic import create_file, replace_file
from logger.folder.names import is_of_a_session

# What may lie in a session's folder: pages, sheets and car files, as long as they are no input.
_WELCOME_SUFFIXES = frozenset({".html", ".htm", ".pdf", ".toml"})


def refuse_out(
    *outs: Path | None, inputs: Iterable[Path | None] = (), overwrite: bool = False
) -> None:
    """Refuse files before any work is done for them; of None there is nothing to refuse.

    ``inputs`` and a session's own files are never written over, ``overwrite`` or not.

    Raises
    ------
    OutputError
        One is a folder, in none, an input or part of one, a session's own file, named twice, or
        exists without ``overwrite``.
    """
    sources = [source.resolve() for source in inputs if source is not None]
    taken: set[Path] = set()
    for out in outs:
        if out is None:
            continue
        where = out.resolve()
        if where in taken:
            raise OutputError(f"{out} is to be written twice; choose two names")
        taken.add(where)
        _refuse_part_of(out, where, sources)
        if not out.parent.is_dir():
            raise OutputError(f"cannot write {out}: there is no folder {out.parent}; make it first")
        if out.is_dir():
            raise OutputError(f"{out} is a folder; give a file name")
        if not overwrite and out.exists():
            raise _exists(out)


def _refuse_part_of(out: Path, where: Path, sources: Iterable[Path]) -> None:
    for source in sources:
        is_inside = source in where.parents and out.suffix.lower() not in _WELCOME_SUFFIXES
        if is_inside or where == source:
            raise OutputError(f"{out} is part of {source}, which is read here; choose another name")
    if is_of_a_session(where):
        raise OutputError(f"{out} is a file of the session in {out.parent}; choose another name")


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


def write_text(out: Path, text: str, *, overwrite: bool = False) -> None:
    """Write text as :func:`write_whole` does; what a path has that is no text becomes a ``?``."""
    write_whole(out, text.encode("utf-8", "replace"), overwrite=overwrite)


def _exists(out: Path) -> OutputError:
    return OutputError(f"{out} exists already; choose another name or give --overwrite")
