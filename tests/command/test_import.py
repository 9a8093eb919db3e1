"""``pipenote import`` as it is typed, on files of the recorded sessions."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import shlex
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from logger.microphone.calibration import write_calibration
from logger.session import read_session
from tests.command_line import BASELINE, CAR, OLD_LEVELS, Run, only_document
from tests.logger.microphone.test_calibration import GOOD

pytestmark = pytest.mark.usefixtures("done_once")


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


def test_import_is_told_when_the_drive_began(run: Run, tmp_path: Path) -> None:
    """Two in the morning of a zone five hours behind is seven in UTC."""
    sound = ("--audio", f"{BASELINE}/audio.wav")
    told = run("import", "--out", tmp_path / "a", *sound, "--started", "2024-06-08T02:05-05:00")
    assert told.status == 0, told.err
    start = read_session(tmp_path / "a").metadata.start_time_utc
    assert start == datetime(2024, 6, 8, 7, 5, tzinfo=UTC)
    local = run("import", "--out", tmp_path / "b", *sound, "--started", "2024-06-08 10:05")
    assert local.status == 0, local.err
    start = read_session(tmp_path / "b").metadata.start_time_utc
    assert start is not None
    assert start.astimezone().replace(tzinfo=None) == datetime(2024, 6, 8, 10, 5)


@pytest.mark.parametrize("time", ["yesterday", "10:05", "2024-13-01 10:05", ""])
def test_a_start_that_is_no_time_is_refused(run: Run, tmp_path: Path, time: str) -> None:
    result = run("import", "--out", tmp_path / "a", "--audio", "x.wav", f"--started={time}")
    assert result.status == 2
    assert "such as '2024-06-08 10:05'" in result.err


def test_sound_alone_is_enough_when_the_cylinders_are_known(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "drive"
    assert run("import", "--out", out, "--audio", f"{BASELINE}/audio.wav").status == 0
    refused = run("find", out)
    assert refused.status == 2
    assert "--cylinders" in refused.err
    document = only_document(run("find", out, "--cylinders", 6, "--json"), "find")
    # truth of the recorded drives: order 3 peaks at 113.0 Hz
    assert document["drone_bands"][0]["engine_order"] == 3.0
    assert document["drone_bands"][0]["peak_hz"] == pytest.approx(113.0, rel=0.006)
    assert document["telemetry_delay_s"] is None


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


def test_a_rotary_car_gives_the_session_its_engine(run: Run, tmp_path: Path) -> None:
    """Each rotor fires once in a turn of its shaft (Heywood 1988, from memory)."""
    car, out = tmp_path / "car.toml", tmp_path / "new"
    car.write_text("[engine]\nrotors = 2\n", encoding="utf-8")
    asked = ("import", "--out", out, "--telemetry", f"{OLD_LEVELS}/telemetry.csv", "--car", car)
    contradicts = run(*asked, "--cylinders", 4)
    assert (contradicts.status, out.exists()) == (2, False)
    assert run(*asked).status == 0
    document = only_document(run("find", out, "--json"), "find")
    assert document["firing_order"] == 2.0
    assert "2 rotors" in run("car", car).out
    sized = only_document(run("size", "--rpm", 4000, "--car", car, "--json"), "size")
    assert sized["target"]["engine_order"] == 2.0


def _phone_files(folder: Path) -> tuple[Path, Path]:
    audio, log = folder / "memo 7.WAV", folder / "log.csv"
    shutil.copy(f"{BASELINE}/audio.wav", audio)
    shutil.copy(f"{BASELINE}/telemetry.csv", log)
    return audio, log


@pytest.mark.parametrize("swap", [False, True])
def test_files_are_told_apart_by_their_names(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, swap: bool
) -> None:
    audio, log = _phone_files(tmp_path)
    monkeypatch.chdir(tmp_path)
    result = run("import", *((log, audio) if swap else (audio, log)), CAR)
    assert result.status == 0, result.err
    session = read_session(tmp_path / "memo 7")
    assert session.metadata.devices == {"sound": "memo 7.WAV", "telemetry": "log.csv"}
    assert session.metadata.car is not None
    assert result.out.splitlines()[-1] == "Next: pipenote find 'memo 7'"
    again = run("import", audio, log)
    assert again.status == 2
    assert "memo 7 exists already" in again.err


def test_the_next_command_is_the_one_that_the_readme_goes_on_with(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _phone_files(tmp_path)
    (tmp_path / "memo 7.WAV").rename(tmp_path / "memo.wav")
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    typed, following, *_ = readme.partition("pipenote import memo.m4a ")[2].splitlines()
    monkeypatch.chdir(tmp_path)
    result = run("import", "memo.wav", *shlex.split(typed), "--cylinders", 6)
    assert result.out.splitlines()[-1] == f"Next: {following}"


def test_files_that_were_swapped_are_told_so(run: Run, tmp_path: Path) -> None:
    audio, log = _phone_files(tmp_path)
    result = run("import", "--out", tmp_path / "a", "--audio", log, "--telemetry", audio)
    assert result.status == 2
    assert "you have the two swapped" in result.err
    assert f"--audio {audio} --telemetry {log}" in result.err
    alone = run("import", "--out", tmp_path / "a", "--audio", log)
    assert f"{log} is a log and no sound; give it with --telemetry" in alone.err


@pytest.mark.parametrize(
    ("files", "why"),
    [
        ((), "nothing to import"),
        (("notes.docx",), "--audio or with --telemetry"),
        (("a.toml", "b.toml", "x.wav"), "are both car files"),
        (("mem.wav",), "did you mean"),
    ],
)
def test_files_that_cannot_be_sorted_are_refused(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, files: tuple[str, ...], why: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "memo.wav").touch()
    result = run("import", *files)
    assert result.status == 2
    assert why in result.err
    assert [each.name for each in tmp_path.iterdir()] == ["memo.wav"]


def test_sound_alone_is_followed_by_a_question_for_the_cylinders(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "drive"
    result = run("import", "--out", out, f"{BASELINE}/audio.wav")
    assert result.out.splitlines()[-1] == f"Next: pipenote size {out} --cylinders N"
