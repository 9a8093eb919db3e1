"""What the desk has done for a person: one command each, in a process of its own.

So the desk can do nothing that a command cannot, a command that dies takes nothing with it, and
work that takes too long can be stopped.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import asyncio
import os
import secrets
import shlex
import sys
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from logger.desk.kept_files import keep, keep_document
from logger.screen.terminal import FRONT_KEY, PROGRESS_KEY, read_progress

_AT_ONCE = 2  # judgement: each takes a core; more only slow each other down
_KEPT = 50  # judgement: finished errands whose page can still be opened
_MOST_SAID_BYTES = 20_000_000  # judgement: the largest document of an hour's drive has a few
# judgement: done, and no device (logger.command.options); what was said of the others holds then
_ANSWERED = (0, 3)
_ENVIRONMENT = {PROGRESS_KEY: "lines", FRONT_KEY: "desk", "COLUMNS": "88", "NO_COLOR": "1"}
_STOP_S = 5.0  # judgement: a command tidies up in far less


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """A command to run.

    Attributes
    ----------
    title : str
        What it does, for a person: "Listening to monday".
    words : tuple of str
        What one would type after ``pipenote``.
    done_at : str
        Page to go to when it is done.
    failed_at : str
        Page that can mend what it was told, when it is refused.
    answer : Path or None
        File that keeps what it prints.
    told : mapping
        What the form said, by field: the page that can mend it shows it again.
    told_at : Path or None
        File that keeps what the form said, once it is done.
    is_on_its_form : bool
        Whether the page to go to when it is done has that form too.
    """

    title: str
    words: tuple[str, ...]
    done_at: str
    failed_at: str
    answer: Path | None = None
    told: Mapping[str, str] = field(default_factory=dict)
    told_at: Path | None = None
    is_on_its_form: bool = False

    @property
    def typed(self) -> str:
        """The command as one would type it."""
        return shlex.join(("pipenote", *self.words))


@dataclass(slots=True, kw_only=True)
class Running:
    """An errand on its way; ``status`` is None until it has ended, 130 when it was stopped.

    ``is_answered`` where it did what was asked, or says of every device why it could not.
    """

    number: str
    errand: Errand
    part: float = 0.0
    doing: str = ""
    status: int | None = None
    is_answered: bool = False
    said: str = ""
    complaint: str = ""
    process: Process | None = None
    task: asyncio.Task[None] | None = field(default=None, repr=False)


class Errands:
    """Every errand of this start, newest last."""

    def __init__(self) -> None:
        self._known: dict[str, Running] = {}
        self._room = asyncio.Semaphore(_AT_ONCE)

    def start(self, errand: Errand) -> Running:
        """Start it, or let it wait for room."""
        running = Running(number=secrets.token_hex(6), errand=errand, doing="waiting")
        self._known[running.number] = running
        running.task = asyncio.create_task(self._run(running))
        ended = [number for number, each in self._known.items() if each.status is not None]
        for number in ended[:-_KEPT]:
            del self._known[number]
        return running

    def get(self, number: str) -> Running | None:
        """Give the errand of this number, if it is still known."""
        return self._known.get(number)

    def under_way(self) -> tuple[Running, ...]:
        """Give those that have not ended."""
        return tuple(each for each in self._known.values() if each.status is None)

    async def stop(self, running: Running) -> None:
        """Stop it; what it was writing is then not there at all."""
        if running.status is not None:
            return
        running.status = 130
        running.complaint = "stopped"
        if running.process is None:  # it waited for room, and has nothing to tidy up
            if running.task is not None:
                running.task.cancel()
            return
        await _ended(running.process)

    async def stop_all(self) -> None:
        """Stop every one, as the desk itself ends."""
        await asyncio.gather(*(self.stop(each) for each in self.under_way()))

    async def _run(self, running: Running) -> None:
        async with self._room:
            if running.status is not None:
                return
            running.doing = "starting"
            process = await asyncio.create_subprocess_exec(
                *(sys.executable, "-m", "pipenote", *running.errand.words),
                stdin=DEVNULL,
                stdout=PIPE,
                stderr=PIPE,
                env=os.environ | _ENVIRONMENT,
            )
            running.process = process
            said, _ = await asyncio.gather(_said(process), _listen(process, running))
            status = await process.wait()
        if running.status is not None:  # it was stopped
            return
        running.said = said.decode("utf-8", "replace")
        errand = running.errand
        if status in _ANSWERED and said and errand.answer is not None:
            keep(errand.answer, said)
            running.is_answered = True
        if status == 0 and errand.told_at is not None:
            keep_document(errand.told_at, errand.told)
        running.is_answered |= status == 0
        running.part = 1.0
        running.status = status


async def _said(process: Process) -> bytes:
    assert process.stdout is not None
    said = bytearray()
    while block := await process.stdout.read(65_536):
        said += block[: max(0, _MOST_SAID_BYTES - len(said))]
    return bytes(said)


async def _listen(process: Process, running: Running) -> None:
    """Take progress, and keep the last other line: a command complains in one."""
    assert process.stderr is not None
    while True:
        try:
            line = await process.stderr.readline()
        except ValueError:  # longer than any line of ours
            continue
        if not line:
            return
        text = line.decode("utf-8", "replace").strip()
        progress = read_progress(text)
        if progress is not None:
            running.part, running.doing = progress
        elif text:
            running.complaint = text.removeprefix("pipenote: ")


async def _ended(process: Process) -> None:
    if process.returncode is not None:
        return
    process.terminate()
    try:
        await asyncio.wait_for(process.wait(), _STOP_S)
    except TimeoutError:
        process.kill()
        await process.wait()
