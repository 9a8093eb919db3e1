"""The command as scripts call it: one document, one line of trouble, the right exit status."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import analysis.find
import logger.plain_lines
import pipenote
from analysis.documents import result_schema
from logger.calibration import write_calibration
from logger.session import read_session
from logger.status import Status
from tests.logger.recording.fake_portaudio import FakeStream, fake_portaudio
from tests.logger.recording.scripted import noise
from tests.logger.test_calibration import GOOD

SESSIONS = Path(__file__).parents[1] / "recorded_sessions"
BASELINE, POSTFIX = str(SESSIONS / "baseline"), str(SESSIONS / "postfix")
OLD_LEVELS, CAR = str(SESSIONS / "old_levels"), str(SESSIONS / "car.toml")


@dataclass(frozen=True)
class Result:
    status: int
    out: str
    err: str


Run = Callable[..., Result]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command line as the shell would; usage errors end in SystemExit as they do there."""

    def run_now(*argv: object) -> Result:
        capsys.readouterr()
        try:
            status: object = pipenote.main([str(word) for word in argv])
        except SystemExit as end:
            status = end.code
        assert isinstance(status, int)
        return Result(status, *capsys.readouterr())

    return run_now


def only_document(result: Result, schema: str) -> dict[str, Any]:
    """The one JSON document on standard output; nothing else may be said anywhere."""
    assert (result.status, result.err) == (0, "")
    document: dict[str, Any] = json.loads(result.out)
    Draft202012Validator(result_schema(schema)).validate(document)
    return document


def fingerprint(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


# --- results ------------------------------------------------------------------------------------


def test_find_gives_one_document(run: Run) -> None:
    before = fingerprint(SESSIONS)
    document = only_document(run("find", BASELINE, "--json"), "find")
    assert document["drone_bands"][0]["engine_order"] == 3.0  # README.md of recorded_sessions
    assert fingerprint(SESSIONS) == before


def test_levels_alone_give_a_document_too(run: Run) -> None:
    document = only_document(run("find", OLD_LEVELS, "--json"), "find")
    assert document["levels_only"]
    assert "levels_only" in [warning["code"] for warning in document["warnings"]]


def test_cylinders_overrule_the_session(run: Run) -> None:
    document = only_document(run("find", OLD_LEVELS, "--cylinders", 8, "--json"), "find")
    assert document["firing_order"] == 4.0


def test_size_for_a_session(run: Run) -> None:
    document = only_document(run("size", BASELINE, "--car", CAR, "--json"), "size")
    assert document["target"]["engine_order"] == 3.0
    assert document["branches"]


def test_size_from_rpm_and_order_is_the_hand_methods_frequency(run: Run) -> None:
    # 2,000 rpm, 4 pulses per revolution: 133.3 Hz. Common practice, no source.
    by_rpm = only_document(run("size", "--rpm", 2000, "--order", 4, "--json"), "size")
    assert by_rpm["target"]["peak_hz"] == pytest.approx(133.3, abs=0.05)
    by_hz = only_document(run("size", "--hz", 133.3, "--json"), "size")
    assert by_hz["target"]["engine_order"] is None
    assert by_hz["predicted"]["elsewhere_change_db"] is None


def test_size_options_reach_the_result(run: Run) -> None:
    options = ("--pipe-diameter", "2 in", "--gas-temperature", "200 degC", "--branches", "1")
    more = ("--tube", "1.5 in x 0.065 in", "--width", "10 Hz")
    document = only_document(run("size", "--hz", 100, *options, *more, "--json"), "size")
    (branch,) = document["branches"]
    assert document["pipe_inner_diameter_mm"] == pytest.approx(50.8)
    assert branch["gas_temperature_c"] == pytest.approx(200.0)
    assert branch["inner_diameter_mm"] == pytest.approx((1.5 - 2 * 0.065) * 25.4, abs=0.01)
    target = document["target"]
    assert target["high_hz"] - target["low_hz"] == pytest.approx(10.0)


def test_drive_without_a_drone_is_a_result(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.analysis.report import examples

    monkeypatch.setattr(analysis.find, "find_drone", lambda drive, progress: examples.findings())
    assert only_document(run("find", BASELINE, "--json"), "find")["drone_bands"] == []
    assert "no drone found" in run("find", BASELINE).out
    document = only_document(run("size", BASELINE, "--json"), "size")
    assert document["branches"] == []
    assert [warning["code"] for warning in document["warnings"]] == ["nothing_to_size"]


def test_compare_gives_one_document(run: Run) -> None:
    document = only_document(run("compare", BASELINE, POSTFIX, "--json"), "compare")
    assert document["bands"][0]["engine_order"] == 3.0


def test_compare_says_what_to_trim_from_the_length_as_built(run: Run) -> None:
    document = only_document(
        run("compare", BASELINE, POSTFIX, "--built", "909 mm", "--json"), "compare"
    )
    (trim,) = document["trim"]
    # truth of the recorded drives: the branch works at 110.5 Hz, the drone peaks at 112.0 Hz
    assert trim["works_at_hz"] == pytest.approx(110.5, rel=0.005)
    assert trim["cut_mm"] == pytest.approx(909.0 * (1.0 - 110.5 / 112.0), abs=3.0)
    assert trim["is_worth_it"]
    assert only_document(run("compare", BASELINE, POSTFIX, "--json"), "compare")["trim"] == []


def test_report_is_written_once_and_replaced_only_when_asked(run: Run, tmp_path: Path) -> None:
    page = tmp_path / "report.html"
    page.write_text("mine", encoding="utf-8")
    command = ("report", OLD_LEVELS, "--car", CAR, "--out", page)
    refused = run(*command)
    assert (refused.status, page.read_text(encoding="utf-8")) == (2, "mine")
    assert "--overwrite" in refused.err
    assert run(*command, "--overwrite").status == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


def test_demo_runs_the_whole_job_and_refuses_a_folder_that_exists(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("demo")
    assert (result.status, result.err) == (0, "")
    assert (tmp_path / "pipenote-demo" / "report.html").stat().st_size > 100_000
    assert [path.name for path in tmp_path.iterdir()] == ["pipenote-demo"]
    before = fingerprint(tmp_path)
    refused = run("demo")
    assert (refused.status, fingerprint(tmp_path)) == (2, before)
    assert "--overwrite" in refused.err


# --- trouble ------------------------------------------------------------------------------------


def test_a_reader_that_leaves_early_is_no_trouble() -> None:
    """As ``pipenote size ... | head -1`` does: a closed pipe on standard output."""
    command = [sys.executable, str(Path(pipenote.__file__)), "size", "--hz", "100", "--json"]
    read_end, write_end = os.pipe()
    os.close(read_end)
    ended = subprocess.run(command, stdout=write_end, stderr=subprocess.PIPE, check=False)
    os.close(write_end)
    assert (ended.returncode, ended.stderr) == (0, b"")


@pytest.mark.parametrize(
    "words",
    [
        "",
        "sing",
        "find",
        "find nowhere",
        f"find {CAR}",
        f"find {SESSIONS}",
        f"find {BASELINE} --channel 2",
        f"find {BASELINE} --channel 0",
        f"find {BASELINE} --cylinders many",
        f"find {BASELINE} --cylinders 40",
        f"find {BASELINE} --car nowhere.toml",
        f"find {BASELINE} --car {BASELINE}/audio.wav",
        "size",
        f"size {BASELINE} --hz 100",
        "size --rpm 2000",
        "size --order 4",
        "size --rpm nan --order 4",
        "size --rpm -2000 --order -4",
        "size --hz 1e9",
        "size --hz 100 --pipe-diameter 60",
        "size --hz 100 --pipe-diameter 9m",
        "size --hz 100 --gas-temperature 300..200degC",
        "size --hz 100 --tube wide",
        "size --hz 100 --width 340rpm",
        "size --hz 100 --width 90Hz",
        f"size {BASELINE} --band 7",
        f"size {BASELINE} --band 0",
        f"compare {BASELINE}",
        f"compare {BASELINE} nowhere",
        f"compare {BASELINE} {POSTFIX} --built wide",
        f"compare {BASELINE} {POSTFIX} --built 1m --built 1m --built 1m",
        f"compare {BASELINE} {OLD_LEVELS}",
        f"report {BASELINE}",
        f"report {BASELINE} --out {SESSIONS}",
        "record --out new --rpm tacho:1",
        "record --out new --rpm none --seconds 0",
        "record --out new --cylinders 0",
        "import --out new",
        "import --out new --telemetry nowhere.csv",
        "import --out new --audio nowhere.wav",
        f"import --out new --telemetry {CAR}",
        f"import --out new --audio {CAR}",
        f"import --out new --audio {BASELINE}/audio.wav --calibration nowhere.json",
        f"import --out new --audio {BASELINE}/audio.wav --microphone-response nowhere.txt",
        f"import --out new --telemetry {OLD_LEVELS}/telemetry.csv --full-scale-db-spl 120",
        f"import --out {BASELINE} --telemetry {BASELINE}/telemetry.csv",
        f"import --out new --telemetry {BASELINE}/telemetry.csv --car {BASELINE}/session.json",
    ],
)
def test_bad_input_is_one_clear_line_and_changes_nothing(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    before = fingerprint(SESSIONS)
    result = run(*words.split())
    assert (result.status, result.out) == (2, "")
    assert result.err.startswith("pipenote")
    assert result.err.endswith("\n")
    assert result.err.count("\n") == 1
    assert len(result.err) > 30
    assert list(tmp_path.iterdir()) == []
    assert fingerprint(SESSIONS) == before


def test_json_shape_holds_for_trouble_too(run: Run) -> None:
    result = run("find", "nowhere", "--json")
    assert (result.status, result.out) == (2, "")


def test_unwritable_place_is_one_line(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    for command in (
        ("report", OLD_LEVELS, "--out", tmp_path / "file" / "report.html"),
        ("demo", "--out", tmp_path / "file" / "demo"),
        ("import", "--out", tmp_path / "file" / "s", "--telemetry", f"{OLD_LEVELS}/telemetry.csv"),
    ):
        result = run(*command)
        assert (result.status, result.err.count("\n")) == (2, 1)


def test_control_characters_do_not_reach_the_terminal(run: Run) -> None:
    result = run("find", "no\nsuch\x1b[31mplace")
    assert result.status == 2
    assert result.err.count("\n") == 1
    assert "\x1b" not in result.err


def test_interrupt_is_status_130(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(analysis.find, "find_drone", interrupted)
    assert run("find", BASELINE).status == 130


def test_help_of_every_command(run: Run) -> None:
    for command in ["demo", "check", "record", "import", "find", "size", "compare", "report"]:
        result = run(command, "--help")
        assert result.status == 0
        assert result.out.startswith(f"usage: pipenote {command}")


# --- recording, with a stand-in for PortAudio -----------------------------------------------------


class TalkingStream(FakeStream):
    """Gives two seconds at once."""

    def start(self) -> None:
        for block in np.split(noise(96_000, 2), 20):
            self.callback(block, block.shape[0], None, None)


@pytest.fixture
def portaudio(monkeypatch: pytest.MonkeyPatch) -> None:
    audio = fake_portaudio()
    monkeypatch.setattr(audio, "InputStream", TalkingStream)
    monkeypatch.setitem(sys.modules, "sounddevice", audio)


@pytest.mark.usefixtures("portaudio")
def test_record_saves_a_session_that_find_can_open(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "drive"
    result = run("record", "--out", out, "--car", CAR, "--seconds", "1.5", "--plain")
    assert result.status == 0
    assert str(out) in result.out
    assert "Carbon monoxide" in result.err
    session = read_session(out)
    assert session.frame_count == 72_000
    assert session.metadata.cylinders == 6
    assert session.metadata.trouble == ()
    assert run("record", "--out", out, "--seconds", "1").status == 2
    assert run("find", out).status == 2  # no rpm came with it: one line says so


@pytest.mark.usefixtures("portaudio")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_interrupted_recording_is_saved_and_told(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: signal.Signals
) -> None:
    def interrupt(status: Status) -> str:
        signal.raise_signal(number)
        return f"{status.elapsed_s} s"

    monkeypatch.setattr(logger.plain_lines, "status_line", interrupt)
    handler = signal.getsignal(number)
    result = run("record", "--out", tmp_path / "drive")
    assert result.status == 130
    assert str(tmp_path / "drive") in result.out
    session = read_session(tmp_path / "drive")
    assert (session.frame_count, session.metadata.trouble) == (96_000, ())
    assert signal.getsignal(number) is handler


class SteadyStream(FakeStream):
    """Gives 20 ms of noise again and again until it is closed."""

    def start(self) -> None:
        self.closed = threading.Event()
        threading.Thread(target=self.talk, daemon=True).start()

    def talk(self) -> None:
        block = noise(960, 2)
        while not self.closed.wait(0.02):
            self.callback(block, block.shape[0], None, None)

    def close(self) -> None:
        self.closed.set()


def test_check_lists_and_tries(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    audio = fake_portaudio()
    monkeypatch.setattr(audio, "InputStream", SteadyStream)
    monkeypatch.setitem(sys.modules, "sounddevice", audio)
    result = run("check", "--seconds", "1")
    assert result.status == 0
    assert "USB measuring microphone" in result.out
    assert "works" in result.out
    assert "Serial port" in result.out


def test_missing_portaudio_is_status_3_and_says_the_cure(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    monkeypatch.setattr(sys, "platform", "linux")
    for command in (("record", "--out", tmp_path / "drive"), ("check",)):
        result = run(*command)
        assert (result.status, result.err.count("\n")) == (3, 1)
        assert "sudo apt install libportaudio2" in result.err
    assert list(tmp_path.iterdir()) == []


# --- import ---------------------------------------------------------------------------------------


def test_import_then_find(run: Run, tmp_path: Path) -> None:
    audio, telemetry = tmp_path / "cabin.wav", tmp_path / "log.csv"
    shutil.copy(f"{BASELINE}/audio.wav", audio)
    rows = (Path(BASELINE) / "telemetry.csv").read_text(encoding="utf-8")
    telemetry.write_text(rows.replace("time_s,rpm", "Time (s),Engine speed (rpm)", 1))
    out = tmp_path / "drive"
    result = run(
        "import", "--out", out, "--audio", audio, "--telemetry", telemetry, "--cylinders", 6
    )
    assert result.status == 0, result.err
    assert "Engine speed (rpm)" in result.out
    document = only_document(run("find", out, "--json"), "find")
    assert document["drone_bands"][0]["engine_order"] == 3.0
    assert document["cylinders"] == 6


def test_import_takes_calibration_and_response_of_the_microphone(run: Run, tmp_path: Path) -> None:
    calibration, response, out = tmp_path / "mic.json", tmp_path / "mic.txt", tmp_path / "drive"
    write_calibration(GOOD, calibration, overwrite=False)
    response.write_text("20 -3.5\n1000 0.0\n", encoding="utf-8")
    words = ("--calibration", calibration, "--microphone-response", response)
    result = run("import", "--out", out, "--audio", f"{BASELINE}/audio.wav", *words)
    assert result.status == 0, result.err
    metadata = read_session(out).metadata
    assert metadata.full_scale_db_spl == GOOD.full_scale_db_spl
    assert metadata.response == ((20.0, -3.5), (1000.0, 0.0))


def test_a_narrow_terminal_loses_no_column(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    shown = run("find", OLD_LEVELS)
    assert shown.status == 0
    assert "…" not in shown.out
    for word in ("order 3", "rise", "locked"):
        assert word in shown.out
