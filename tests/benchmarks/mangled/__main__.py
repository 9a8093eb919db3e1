"""Thousands of mangled inputs through the commands: python -m tests.benchmarks.mangled.

Each must end with status 0 or 2 in the time and memory allowed, say one line where it refuses,
leave every input as it was and nothing half-written; a session that an import makes must open.
Whatever else happens is printed with its number, and ``--only NUMBER`` runs that one again.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import multiprocessing
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path

from tests.benchmarks.mangled.inputs import KINDS
from tests.benchmarks.mangled.worker import Outcome, run, serve

_HANG_S = 10.0
_MOST_MB = 500.0  # above what a process needs to start
_SHOWN = 50
_START_S = 60.0


@dataclass
class Tally:
    """What came of all inputs so far."""

    ended: Counter[tuple[str, int]] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    most_mb: float = 0.0

    def note(self, outcome: Outcome, took_s: float, mb: float) -> None:
        """Take note of one input."""
        self.ended[outcome.kind, outcome.status] += 1
        self.slowest_s, self.most_mb = max(self.slowest_s, took_s), max(self.most_mb, mb)
        if outcome.fault:
            self.faults.append(f"{outcome.number} ({outcome.kind}): {outcome.fault}")
        if mb > _MOST_MB:
            self.faults.append(f"{outcome.number} ({outcome.kind}): {mb:.0f} MB")

    def show(self) -> None:
        """Print a line for each kind, then every fault."""
        print(f"{'kind':16}{'inputs':>8}{'read':>8}{'refused':>9}{'other':>7}")
        for kind in KINDS:
            ended = {status: n for (name, status), n in self.ended.items() if name == kind.name}
            read, refused = ended.pop(0, 0), ended.pop(2, 0)
            rest = sum(ended.values())
            print(f"{kind.name:16}{read + refused + rest:8}{read:8}{refused:9}{rest:7}")
        print(f"slowest {self.slowest_s:.1f} s, most memory {self.most_mb:.0f} MB above the start")
        print(f"{len(self.faults)} faults")
        print(*self.faults[:_SHOWN], sep="\n")


class Worker:
    """A process that runs inputs, and is ended when one hangs."""

    def __init__(self, base: Path) -> None:
        self._base = base
        self._start()

    def ask(self, number: int, tally: Tally) -> None:
        """Run one input and note what came of it."""
        began_s = time.monotonic()
        self._line.send(number)
        kind = KINDS[number % len(KINDS)].name
        lost = ""
        try:
            if self._line.poll(_HANG_S):
                outcome: Outcome = self._line.recv()
            else:
                lost = f"no end after {_HANG_S:g} s"
        except EOFError:
            lost = "the process died"
        took_s = time.monotonic() - began_s
        if lost:
            self.close()
            self._start()
            outcome = Outcome(number=number, kind=kind, status=-1, fault=lost, peak_mb=0.0)
        mb = max(0.0, outcome.peak_mb - self._first_mb)
        tally.note(outcome, took_s, mb)
        if mb > _MOST_MB:  # the peak stays, so what comes after it is measured anew
            self.close()
            self._start()

    def close(self) -> None:
        """End the process."""
        self._process.kill()
        self._process.join()
        self._line.close()

    def _start(self) -> None:
        """Start, and run one input of each kind, so that all is loaded."""
        context = multiprocessing.get_context("spawn")
        line: tuple[Connection, Connection] = context.Pipe()
        self._line, other = line
        self._process: SpawnProcess = context.Process(target=serve, args=(other, self._base))
        self._process.start()
        other.close()
        self._first_mb = 0.0
        for number in range(len(KINDS)):
            self._line.send(-number - 1)
            if not self._line.poll(_START_S):
                raise SystemExit("the process does not start")
            self._first_mb = self._line.recv().peak_mb


def main() -> None:
    """Run them and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--first", type=int, default=0, help="number of the first input")
    parser.add_argument("--only", type=int, help="run this one, and print what came of it")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="mangled") as folder:
        if arguments.only is not None:
            print(run(arguments.only, Path(folder)))
            return
        tally, worker = Tally(), Worker(Path(folder))
        try:
            for number in range(arguments.first, arguments.first + arguments.count):
                worker.ask(number, tally)
        finally:
            worker.close()
            tally.show()
    raise SystemExit(1 if tally.faults else 0)


if __name__ == "__main__":
    main()
