"""A drive recorded from the desk, with a real sound server: the desk may die, the drive goes on."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2
import pytest

from logger.desk.folder import HIDDEN
from logger.session import read_session
from tests.live.recording import ROOT
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import LONG_S, wait_until


class OpenedDesk:
    """``pipenote desk`` as a process of its own, asked as a browser would."""

    def __init__(self, process: subprocess.Popen[str], home: str) -> None:
        self.process = process
        self.client = httpx2.Client(base_url=home, headers={"origin": home}, follow_redirects=True)

    def get(self, path: str) -> str:
        return self.client.get(path).text

    def post(self, path: str, **data: str) -> str:
        found = re.search(r"\?secret=([\w-]+)", self.get("/record"))
        assert found is not None
        answer = self.client.post(path, params={"secret": found[1]}, data=data)
        return answer.text


@contextmanager
def desk_over(folder: Path, environment: dict[str, str]) -> Iterator[OpenedDesk]:
    """Leaving it kills the desk, as a crash would."""
    process = subprocess.Popen(
        [sys.executable, "-m", "pipenote", "desk", str(folder), "--no-browser"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        found = re.search(r"http://[\d.]+:\d+", process.stdout.readline())
        assert found is not None
        desk = OpenedDesk(process, found[0])
        with desk.client:
            yield desk
    finally:
        process.kill()
        process.communicate(timeout=LONG_S)


@pytest.mark.skipif(os.name == "nt", reason="the sound server is for Linux")
def test_a_recording_outlives_the_desk(
    tmp_path: Path, sound_server: SoundServer, card: SoundCard
) -> None:
    told = {"name": "monday", "microphone": card.name, "cylinders": "6"}
    with desk_over(tmp_path, sound_server.environment) as desk:
        desk.post("/record", **told)
        status = tmp_path / HIDDEN / "recording" / "status.json"
        wait_until(status.exists, lambda: _said(tmp_path), LONG_S)
        assert "Recording <strong>monday" in desk.get("/record")
        assert "is being recorded; stop that first" in desk.post("/record", **told | {"name": "b"})
    with desk_over(tmp_path, sound_server.environment) as desk:  # the first one is dead
        assert "Recording <strong>monday" in desk.get("/record")
        desk.post("/record/mark")
        wait_until(lambda: '"mark_count": 1' in status.read_text(), status.read_text, LONG_S)
        desk.post("/record/stop")
        wait_until(lambda: '"ended"' in status.read_text(), status.read_text, LONG_S)
        page = desk.get("/record")
        assert "are saved in" in page
        assert 'href="/drives/monday"' in page
    session = read_session(tmp_path / "monday")
    assert session.metadata.trouble == ()
    assert len(session.metadata.marks_s) == 1
    assert session.frame_count / card.rate_hz > session.metadata.marks_s[0]


def _said(folder: Path) -> str:
    said = folder / HIDDEN / "recording" / "said.txt"
    return said.read_text(errors="replace") if said.exists() else "nothing"
