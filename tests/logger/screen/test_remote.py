"""A recording steered through files."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

from logger.recording.recorder import Controls
from logger.recording.status import DeviceState, Light, Status
from logger.screen.remote import Remote

STATUS = Status(
    elapsed_s=1.5,
    level_db=-math.inf,
    peak_db=-math.inf,
    full_scale_db=0.0,
    level_unit="dB re full scale",
    is_too_loud=False,
    rpm=2240.0,
    road_speed_m_s=None,
    devices=(DeviceState(name="sound", light=Light.GOOD, readings_per_s=None, words=""),),
    disk_left_s=1e6,
    trouble_count=0,
    last_trouble="",
    mark_count=0,
    coverage=None,
)


def test_the_watcher_reads_how_it_stands(tmp_path: Path) -> None:
    shown: list[Status] = []
    own = Controls(seconds=None, stopped=lambda: False, mark_asked=lambda: False, show=shown.append)
    remote = Remote(tmp_path)
    remote.beside(own).show(STATUS)
    status = json.loads((tmp_path / "status.json").read_text(encoding="utf-8"))
    assert shown == [STATUS]
    assert (status["state"], status["rpm"], status["level_db"]) == ("recording", 2240.0, None)
    assert status["devices"][0]["light"] == "good"
    remote.ended(["saved"])
    status = json.loads((tmp_path / "status.json").read_text(encoding="utf-8"))
    assert status == {"state": "ended", "said": ["saved"]}


def test_files_mark_and_stop(tmp_path: Path) -> None:
    own = Controls(seconds=None, stopped=lambda: False, mark_asked=lambda: False, show=print)
    controls = Remote(tmp_path).beside(own)
    assert (controls.stopped(), controls.mark_asked()) == (False, False)
    (tmp_path / "mark").touch()
    assert [controls.mark_asked(), controls.mark_asked()] == [True, False]
    (tmp_path / "stop").touch()
    assert controls.stopped()


def test_what_an_earlier_recording_was_asked_is_forgotten(tmp_path: Path) -> None:
    (tmp_path / "stop").touch()
    assert not Remote(tmp_path).stop_asked()


def test_a_folder_that_vanishes_ends_no_drive(tmp_path: Path) -> None:
    folder = tmp_path / "remote"
    folder.mkdir()
    remote = Remote(folder)
    shutil.rmtree(folder)
    remote.show(STATUS)
    assert not remote.stop_asked()
    assert not remote.mark_asked()
