"""Put a page or a sheet into a file whole or not at all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from analysis.errors import AnalysisError

_PAGE_SUFFIXES = frozenset({".html", ".htm"})


class ReportError(AnalysisError):
    """A report that exists already or cannot be written."""


def write_whole(out: Path, data: bytes, *, overwrite: bool) -> None:
    """Write ``data`` to ``out`` by way of a file beside it.

    Raises
    ------
    ReportError
        ``out`` exists and ``overwrite`` is not set, or the folder cannot be written.
    """
    refuse_existing(out, overwrite=overwrite)
    part = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        with part.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        _put_in_place(part, out, overwrite=overwrite)
    except OSError as error:
        raise _cannot_write(out, error) from error
    finally:
        part.unlink(missing_ok=True)


def refuse_out(out: Path | None, inputs: Iterable[Path | None], *, overwrite: bool) -> None:
    """Refuse early, before any work is done; without ``out`` there is nothing to refuse.

    Raises
    ------
    ReportError
        As :func:`refuse_input` and :func:`refuse_existing`.
    """
    if out is not None:
        refuse_input(out, inputs)
        refuse_existing(out, overwrite=overwrite)


def refuse_existing(out: Path, *, overwrite: bool) -> None:
    """Refuse early, before any work is done.

    Raises
    ------
    ReportError
        ``out`` is a folder, or exists and ``overwrite`` is not set.
    """
    if out.is_dir():
        raise ReportError(f"{out} is a folder; give a file name")
    if not overwrite and out.exists():
        raise _exists(out)


def refuse_input(out: Path, inputs: Iterable[Path | None]) -> None:
    """Refuse to write over what the report is made from, ``--overwrite`` or not.

    Raises
    ------
    ReportError
        ``out`` is an input, or one of the files of a session folder among them.
    """
    where = out.resolve()
    for source in filter(None, inputs):
        inside = source.resolve() in where.parents and out.suffix.lower() not in _PAGE_SUFFIXES
        if inside or where == source.resolve():
            raise ReportError(
                f"{out} is part of {source}, which the report is made from; choose another --out"
            )


def _put_in_place(part: Path, out: Path, *, overwrite: bool) -> None:
    if overwrite:
        part.replace(out)
        return
    try:
        # A hard link fails when the name is taken, even by someone who was quicker than the check.
        os.link(part, out)
    except FileExistsError as error:
        raise _exists(out) from error
    except OSError:  # a file system without hard links, such as FAT on a USB stick
        refuse_existing(out, overwrite=False)
        part.replace(out)


def _exists(out: Path) -> ReportError:
    return ReportError(f"{out} exists already; choose another name or give --overwrite")


def _cannot_write(out: Path, error: OSError) -> ReportError:
    why = error.strerror or str(error)
    return ReportError(f"cannot write {out}: {why}; choose a folder you can write to")
