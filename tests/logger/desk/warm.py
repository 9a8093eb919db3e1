"""Errands of the desk by a program that has loaded all they need, and forks for each.

Loading takes longer than most of what the tests have done: two seconds of the processor each time.
The desk still starts a process, reads its streams and signals it; that one only passes them on.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import asyncio
import importlib
import json
import os
import pkgutil
import socket
import subprocess
import sys
from asyncio.subprocess import Process
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, NoReturn

from tests.logger.desk import pass_on

ROOT = Path(__file__).parents[3]


Start = Callable[..., Awaitable[Process]]


@contextmanager
def warm_errands(door: Path) -> Iterator[Start]:
    """Start the program that listens at the door; gives what stands for starting an errand."""
    start = asyncio.create_subprocess_exec

    async def passed_on(python: str, _: str, program: str, *words: str, **how: Any) -> Process:
        assert (python, program) == (sys.executable, "pipenote")
        return await start(python, "-S", pass_on.__file__, str(door), *words, **how)

    command = [sys.executable, "-m", __name__, str(door)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as listens:
        try:
            assert listens.stdout is not None
            assert listens.stdout.readline() == b"ready\n"
            yield passed_on
        finally:
            listens.terminate()


def listen(door: str) -> NoReturn:
    """Load everything, and run what is asked for, each in a fork of its own."""
    import analysis
    import logger.importing

    for package in (analysis, logger.importing):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            importlib.import_module(module.name)
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(door)
        listening.listen()
        print("ready", flush=True)
        while True:
            asked, _ = listening.accept()
            if os.fork() == 0:
                _answer(asked)
            asked.close()
            with suppress(ChildProcessError):  # of those before, what they took is counted
                while os.waitpid(-1, os.WNOHANG) != (0, 0):
                    pass


def _answer(asked: socket.socket) -> NoReturn:
    """Run what is asked for, say which process does, and in the end its status."""
    told, streams, _, _ = socket.recv_fds(asked, 1 << 20, 3)
    if (errand := os.fork()) == 0:
        _run(streams, *json.loads(told))
    for stream in streams:  # or whoever reads them would never come to their end
        os.close(stream)
    asked.send(errand.to_bytes(8, "big"))
    status = os.waitstatus_to_exitcode(os.waitpid(errand, 0)[1])
    asked.send(status.to_bytes(8, "big", signed=True))
    os._exit(0)


def _run(
    streams: list[int], folder: str, environment: dict[str, str], words: list[str]
) -> NoReturn:
    import pipenote

    for number, stream in enumerate(streams):
        os.dup2(stream, number)
        os.close(stream)
    # made anew, as they may know of the ones before that they can be sought in
    sys.stdin, sys.stdout, sys.stderr = os.fdopen(0), os.fdopen(1, "w"), os.fdopen(2, "w", 1)
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    sys.argv = ["pipenote", *words]
    try:
        pipenote.program()
    except SystemExit as end:
        sys.stdout.flush()
        os._exit(int(end.code or 0))


if __name__ == "__main__":
    listen(sys.argv[1])
