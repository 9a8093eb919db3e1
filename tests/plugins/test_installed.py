"""A stranger's package with a source and an importer: installed by pip, listed, used, broken."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from logger.session import read_session
from tests.command_line import Run
from tests.logger.microphone.fake_portaudio import FakeStream, fake_portaudio
from tests.logger.recording.scripted import noise

BOX = Path(__file__).with_name("strangers_box")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package as pip installs it, without a network, into a folder of its own."""
    source = tmp_path_factory.mktemp("source") / "box"
    shutil.copytree(BOX, source, ignore=shutil.ignore_patterns("__pycache__"))
    target = tmp_path_factory.mktemp("installed")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "install", "--quiet"]
    how = ["--no-index", "--no-build-isolation", "--no-deps", "--target", str(target), str(source)]
    done = subprocess.run([*pip, *how], capture_output=True, text=True, check=False)
    if "No module named pip" in done.stderr:
        pytest.skip("pip is not installed")
    assert done.returncode == 0, done.stderr
    return target


@pytest.fixture(autouse=True)
def _added(installed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(installed))
    monkeypatch.delitem(sys.modules, "strangers_box", raising=False)


@pytest.fixture
def portaudio(monkeypatch: pytest.MonkeyPatch) -> None:
    class Talking(FakeStream):
        """Gives two seconds at once."""

        def start(self) -> None:
            for block in np.split(noise(96_000, 2), 20):
                self.callback(block, block.shape[0], None, None)

    audio = fake_portaudio()
    monkeypatch.setattr(audio, "InputStream", Talking)
    monkeypatch.setitem(sys.modules, "sounddevice", audio)


@pytest.mark.usefixtures("portaudio")
def test_check_lists_both_and_a_broken_one_costs_one_line(run: Run) -> None:
    told = " ".join(run("check", "--seconds", "0.2").out.split())
    assert "steady from strangers-box 1.2; use it as --rpm steady:..." in told
    assert "boxlog from strangers-box 1.2; use it as --importer boxlog" in told
    for broken in ("source broken", "importer brokenlog"):
        assert told.count(f"the {broken} cannot be loaded") == 1


@pytest.mark.parametrize(
    ("command", "use"),
    [
        ("record", "--rpm steady:..."),
        ("check", "--rpm steady:..."),
        ("import", "--importer boxlog"),
    ],
)
def test_help_names_them(run: Run, command: str, use: str) -> None:
    told = run(command, "--help")
    assert (told.status, told.err) == (0, "")
    assert "Added by other packages: " in told.out
    assert use in told.out.partition("Added by other packages: ")[2]


@pytest.mark.usefixtures("portaudio")
def test_a_drive_is_recorded_with_the_source(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "drive"
    done = run("record", "--out", out, "--rpm", "steady:2000", "--seconds", "1.5", "--plain")
    assert done.status == 0
    telemetry = read_session(out).telemetry
    assert set(telemetry["rpm"]) == {2000.0}
    refused = run("record", "--out", tmp_path / "other", "--rpm", "broken:1", "--plain")
    assert (refused.status, refused.err.count("\n")) == (2, 1)
    assert "the source broken cannot be loaded" in refused.err
    assert not (tmp_path / "other").exists()


def test_a_log_is_imported_and_the_broken_importer_costs_one_note(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "monday.box"
    log.write_text("".join(f'{{"t": {at}, "n": {900 + at}, "la": 70}}\n' for at in range(50)))
    done = run("import", "--telemetry", log, "--out", tmp_path / "monday")
    assert done.status == 0
    told = " ".join(done.out.split())
    assert told.count("the importer brokenlog cannot be loaded") == 1
    assert list(read_session(tmp_path / "monday").telemetry["rpm"]) == [
        900.0 + at for at in range(50)
    ]
    named = run("import", "--telemetry", log, "--importer", "boxlog", "--out", tmp_path / "named")
    assert named.status == 0
    assert "brokenlog" not in named.out


def test_a_csv_file_is_read_beside_a_broken_importer(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("time_s,rpm,LAeq\n" + "".join(f"{at},{900 + at},70\n" for at in range(50)))
    done = run("import", "--telemetry", log, "--out", tmp_path / "monday")
    assert (done.status, done.err) == (0, "")
