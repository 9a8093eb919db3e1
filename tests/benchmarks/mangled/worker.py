"""Run one mangled input after the other in a process that its parent may end."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import io
import os
import random
import resource
import shutil
import tempfile
import traceback
import warnings
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

import pipenote
from logger.errors import LoggerError
from logger.session import read_session
from tests.benchmarks.mangled.inputs import KINDS, Asked

_LONGEST_LINE = 900
_STATUSES = (0, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of one input; ``fault`` is empty where it held, ``peak_mb`` is of the process."""

    number: int
    kind: str
    status: int
    fault: str
    peak_mb: float


def serve(line: Connection, base: Path) -> None:
    """Run the inputs whose numbers come, until None does."""
    warnings.simplefilter("ignore")  # as the program itself
    os.chdir(base)
    while (number := line.recv()) is not None:
        line.send(run(number, base))


def run(number: int, base: Path) -> Outcome:
    """Make the input with this number, run its command, and judge what it left."""
    kind = KINDS[number % len(KINDS)]
    folder = Path(tempfile.mkdtemp(dir=base))
    try:
        asked = kind.make(random.Random(number), folder)
        before = _contents(folder)
        status, out, err = _typed(asked.words)
        fault = _fault(asked, status, out, err) or _left_behind(asked, status, folder, before)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return Outcome(number=number, kind=kind.name, status=status, fault=fault, peak_mb=peak_mb)


def _typed(words: tuple[str, ...]) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = pipenote.main(words)
        except SystemExit as end:
            status = end.code if isinstance(end.code, int) else 1
        except BaseException:  # this is what is looked for
            return 1, out.getvalue(), traceback.format_exc()
    return status, out.getvalue(), err.getvalue()


def _fault(asked: Asked, status: int, out: str, err: str) -> str:
    if "Traceback" in err:
        return f"traceback: {err.strip().splitlines()[-1][:200]}"
    if status not in _STATUSES:
        return f"status {status}: {err[:200]}"
    if status == 0:
        return "" if not err else f"status 0, and told: {err[:200]}"
    if err.count("\n") != 1 or not err.startswith("pipenote"):
        return f"not one line: {err[:200]!r}"
    if len(err) > _LONGEST_LINE:
        return f"a line of {len(err)} characters"
    if not err.removesuffix("\n").isprintable():
        return f"signs that a terminal obeys: {err[:200]!r}"
    return "both a result and an error" if out and "--json" in asked.words else ""


def _left_behind(asked: Asked, status: int, folder: Path, before: dict[str, bytes]) -> str:
    """Say what was changed or left half-written."""
    after = _contents(folder)
    if any(after.get(name) != data for name, data in before.items()):
        return "an input was changed"
    new = sorted(set(after) - set(before))
    if status == 0 and asked.out is not None:
        try:
            session = read_session(asked.out)
            sound = session.drive().sound
            for _ in () if sound is None else sound.read_blocks():
                pass
        except LoggerError as error:
            return f"the session that was made cannot be read: {error}"
        return ""
    return f"left behind: {new[0]}" if new and status != 0 else ""


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }
