"""What the desk costs, how soon its pages answer, and what a killed one takes along.

    python -m tests.benchmarks.desk [--kills N]

Opens ``pipenote desk`` over the demo's drives and prints its memory, its processor time while
nobody asks anything, and how long each page takes to its first answer. Then it records from the
desk with the recording's page open, and prints the processor time of both. Then it records again,
kills the desk at a random moment, opens another one that must find the recording, and stops it
there; N times. Needs the parts of ``tests/live``: a private sound server with a card of ours.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from logger.desk.folder import HIDDEN
from logger.session import read_session
from tests.command_line import SESSIONS
from tests.live.faults import LOUDSPEAKER, MICROPHONE, RATE_HZ
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.test_desk_recording import OpenedDesk, desk_over
from tests.live.waiting import LONG_S, wait_until

_IDLE_S, _RECORDING_S = 10.0, 20.0
_PAGES = ("/", "/drives/baseline", "/bring-in", "/record", "/cars", "/prove")
_TICKS_PER_S = os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=20, metavar="N")
    kills = parser.parse_args().kills
    with tempfile.TemporaryDirectory(prefix="desk") as name:
        cost(Path(name))
    rng = np.random.default_rng(5)
    with tempfile.TemporaryDirectory(prefix="sound") as name:
        names = {MICROPHONE: MICROPHONE, LOUDSPEAKER: f"{LOUDSPEAKER}.monitor"}
        with (
            SoundServer(Path(name), names) as server,
            SoundCard(server, MICROPHONE, RATE_HZ) as card,
        ):
            recording(server, card)
            whole = [survives(server, card, rng.uniform(0.5, 3.0)) for _ in range(kills)]
    print(f"{sum(whole)} of {kills} drives whole after their desk was killed")


def cost(folder: Path) -> None:
    """Memory, idle processor time, and time to the first answer."""
    shutil.copytree(SESSIONS, folder / "car")
    with desk_over(folder / "car", dict(os.environ)) as desk:
        for path in _PAGES:
            started_s = time.perf_counter()
            desk.get(path)
            print(f"{path:20} {time.perf_counter() - started_s:.2f} s")
        idle = _percent_of_a_core([desk.process.pid], _IDLE_S)
        print(f"idle: {idle:.1f} % of a core, {_memory_mb(desk):.0f} MB")


def recording(server: SoundServer, card: SoundCard) -> None:
    """Processor time of the desk and of what records, while a browser follows both."""
    with tempfile.TemporaryDirectory(prefix="desk") as name:
        status = Path(name) / HIDDEN / "recording" / "status.json"
        with desk_over(Path(name), server.environment) as desk, ThreadPoolExecutor(1) as browser:
            desk.post("/record", name="monday", microphone=card.name, cylinders="6")
            wait_until(status.exists, lambda: "no status", LONG_S)
            seen = browser.submit(_follow, desk)
            (recorder,) = _processes_over(name)
            used = _percent_of_a_core([desk.process.pid, recorder], _RECORDING_S)
            desk.post("/record/stop")
            print(f"recording with its page open: {used:.1f} % of a core, {seen.result()} events")


def _follow(desk: OpenedDesk) -> int:
    """Read the events of the recording's page until it ends, and count them."""
    with desk.client.stream("GET", "/record/events", timeout=None) as answer:
        return sum(line.startswith("data:") for line in answer.iter_lines())


def _processes_over(folder: str) -> list[int]:
    """Find what records into a folder: a process of its own, which the desk only starts."""
    asked = {int(each.parent.name): each for each in Path("/proc").glob("[0-9]*/cmdline")}
    return [pid for pid, each in asked.items() if f"{folder}/monday".encode() in _read(each)]


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError:  # it ended meanwhile
        return b""


def survives(server: SoundServer, card: SoundCard, until_s: float) -> bool:
    """Record, kill the desk after so long, and stop by another one."""
    with tempfile.TemporaryDirectory(prefix="desk") as name:
        folder = Path(name)
        status = folder / HIDDEN / "recording" / "status.json"
        with desk_over(folder, server.environment) as desk:
            desk.post("/record", name="monday", microphone=card.name, cylinders="6")
            wait_until(status.exists, lambda: "no status", LONG_S)
            time.sleep(until_s)
        with desk_over(folder, server.environment) as desk:
            found_again = "Recording <strong>monday" in desk.get("/record")
            desk.post("/record/stop")
            wait_until(lambda: '"ended"' in status.read_text(), status.read_text, LONG_S)
        session = read_session(folder / "monday")
        return (
            found_again and not session.metadata.trouble and session.frame_count / RATE_HZ > until_s
        )


def _percent_of_a_core(pids: list[int], seconds: float) -> float:
    before_s = sum(map(_processor_s, pids))
    time.sleep(seconds)
    return 100.0 * (sum(map(_processor_s, pids)) - before_s) / seconds


def _processor_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS_PER_S


def _memory_mb(desk: OpenedDesk) -> float:
    for line in Path(f"/proc/{desk.process.pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024.0
    raise AssertionError("no memory told")


if __name__ == "__main__":
    main()
