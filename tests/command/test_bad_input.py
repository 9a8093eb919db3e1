"""Bad input to any command: one line of trouble, the right exit status, nothing changed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.command_line import (
    BASELINE,
    CAR,
    OLD_LEVELS,
    POSTFIX,
    SESSIONS,
    Run,
    fingerprint,
)

pytestmark = pytest.mark.usefixtures("done_once")


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
        "size --rpm 2000 --order nan",
        "size --rpm 2000 --stroke-cycle 2",
        "size --rpm 2000 --cylinders 8 --hz 133",
        "size --rpm 2000 --cylinders 8 --channel 1",
        "size --rpm 2000 --cylinders 8 --band 1",
        "size --hz 133 --cylinders 8",
        "size --hz 133 --order 4",
        "report --rpm 2000 --out new.html",
        "report --out new.html",
        "report --rpm 2000 --cylinders 8 --built 1m --out new.html",
        "size --rpm -2000 --order -4",
        "size --hz 1e9",
        "size --hz 100 --pipe-diameter 60",
        "size --hz 100 --pipe-diameter 9m",
        "size --hz 100 --gas-temperature 300..200degC",
        "size --hz 100 --tube wide",
        "size --hz 100 --width 340rpm",
        "size --hz 100 --width 90Hz",
        "size --hz 100 --sheets new.pdf --angle 10",
        "size --hz 100 --sheets new.pdf --wall thick",
        "size --hz 100 --sheets new.pdf --room 1mm 1mm",
        f"size --hz 100 --sheets {SESSIONS}",
        f"size {BASELINE} --band 7",
        f"size {BASELINE} --band 0",
        f"compare {BASELINE}",
        f"compare {BASELINE} nowhere",
        f"compare {BASELINE} {POSTFIX} --built wide",
        f"compare {BASELINE} {POSTFIX} --built as-sized",
        f"compare {BASELINE} {BASELINE}",
        f"report {BASELINE} {BASELINE} --out new.html",
        "size --hz 100 --keep",
        f"size {BASELINE} --sheets {BASELINE}/telemetry.csv --overwrite",
        f"size {BASELINE} --car {CAR} --sheets {CAR} --overwrite",
        f"size --hz 100 --sheets {OLD_LEVELS}/telemetry.csv --overwrite",
        f"compare {BASELINE} {POSTFIX} --car {CAR} --write-car {CAR} --overwrite",
        f"compare {BASELINE} {POSTFIX} --car {CAR} --write-car {BASELINE}/session.json --overwrite",
        f"report {OLD_LEVELS} --out new.html --sheets {OLD_LEVELS}/audio.wav",
        f"report {BASELINE} --out new.html --sheets new.html --overwrite",
        f"report {BASELINE} --out new.html --sheets new.pdf --angle 5",
        f"report {BASELINE} --car {CAR} --out new.html --sheets new.pdf --room 1mm 1mm",
        f"compare {BASELINE} {POSTFIX} --write-car new.toml",
        f"compare {BASELINE} {POSTFIX} --car {CAR} --write-car {CAR}",
        f"compare {BASELINE} {POSTFIX} --built 1m --built 1m --built 1m",
        f"compare {BASELINE} {OLD_LEVELS}",
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


@pytest.mark.parametrize("command", ["record --out new", "check"])
@pytest.mark.parametrize("seconds", ["abc", "", "nan", "inf", "-1", "0", "1e-5", "0.09"])
def test_a_time_that_cannot_be_recorded_is_refused_in_plain_words(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str, seconds: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(*command.split(), "--seconds", seconds)
    assert (result.status, result.err.count("\n")) == (2, 1)
    assert f"--seconds: '{seconds}' must be a number of seconds, 0.1 or more" in result.err


def test_a_number_of_absurd_length_is_refused_in_plain_words(run: Run) -> None:
    result = run("find", BASELINE, "--channel", "9" * 5000)
    assert result.status == 2
    assert "must be a whole number from 1 up" in result.err


@pytest.mark.skipif(not Path(os.devnull).is_char_device(), reason="a device is no file here")
@pytest.mark.parametrize("option", ["--car", "--calibration", "--microphone-response"])
def test_a_device_is_no_file_to_read_since_it_may_never_end(
    run: Run, tmp_path: Path, option: str
) -> None:
    audio = f"{BASELINE}/audio.wav"
    result = run("import", "--out", tmp_path / "new", "--audio", audio, option, os.devnull)
    assert (result.status, result.err.count("\n")) == (2, 1)
    assert "regular file" in result.err
    assert list(tmp_path.iterdir()) == []


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
    for words in (("no\nsuch\x1b[31mplace",), (BASELINE, "one\ntoo\x1b[31mmany")):
        result = run("find", *words)
        assert result.status == 2
        assert result.err.count("\n") == 1
        assert "\x1b" not in result.err


def test_interrupt_is_status_130(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("analysis.find.drone.find_drone", interrupted)
    assert run("find", BASELINE).status == 130
