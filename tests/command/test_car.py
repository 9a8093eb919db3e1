"""``pipenote car``: asked question by question, and a file checked and drawn."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
import os
import select
import sys
import time
import tomllib
from pathlib import Path

import pytest

from analysis.exhaust.car import read_car
from tests.analysis.build.sheets.printed import Printed
from tests.command_line import CAR, Result, Run

ROOT = Path(__file__).parents[2]
TYPED = [
    *("millimetres", "", "6", "inline", "1200 to 3600", "one pipe"),
    *("pipe, 1600, 60.2", "muffler, 450, 180", "", "pipe, 1970, 60.2", ""),
    *("300 to 1400, 2200 to 3700", "1 m", "", "450 degC, 200 degC"),
    "",  # yes, that is the car
]
CTRL_C = "\x03"
_PATIENCE_S = 60.0  # for the program to come to its next question


def told(run: Run, monkeypatch: pytest.MonkeyPatch, lines: list[str], *words: object) -> Result:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    return run("car", *words)


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")


def test_asks_draws_and_writes(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    result = told(run, monkeypatch, TYPED, "--svg", "car.svg")
    assert (result.status, result.err) == (0, "")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["car.svg", "car.toml"]
    written, usual = read_car(tmp_path / "car.toml"), read_car(Path(CAR))
    assert written.places_m == tuple(map(pytest.approx, usual.places_m))
    assert [s.length_m for s in written.sections] == pytest.approx(
        [s.length_m for s in usual.sections]
    )
    assert "an empty can" in result.out
    assert "4.02 m" in result.out
    assert "---room---" in result.out
    again = run("car", "car.toml")
    assert again.status == 0
    assert "4020 mm, 158.3 in" in again.out


def test_back_changes_the_answer_before(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    lines = ["back", *TYPED[:3], "back", "4", *TYPED[3:-1], "no", "500 degC", "perhaps", ""]
    result = told(run, monkeypatch, lines)
    assert (result.status, result.err) == (0, "")
    table = tomllib.loads((tmp_path / "car.toml").read_text(encoding="utf-8"))
    assert table["engine"]["cylinders"] == 4
    assert table["exhaust"]["inlet_gas_temperature"] == "500 degC"
    assert "outlet_gas_temperature" not in table["exhaust"]


def test_what_was_answered_is_kept_and_gone_on_with(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    stopped = told(run, monkeypatch, TYPED[:9])
    assert stopped.status == 2
    assert "9 answers are kept in car.toml.answers, and pipenote car goes on" in stopped.err
    assert [path.name for path in tmp_path.iterdir()] == ["car.toml.answers"]
    quits = told(run, monkeypatch, ["quit"])
    assert quits.status == 130
    assert "9 answers are kept" in quits.err
    result = told(run, monkeypatch, TYPED[9:])
    assert (result.status, result.err) == (0, "")
    assert "Going on after the 9 answers" in result.out
    assert [path.name for path in tmp_path.iterdir()] == ["car.toml"]
    assert read_car(tmp_path / "car.toml").pipe_length_m == pytest.approx(4.02)


def test_nothing_is_overwritten_unasked(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    mine = tmp_path / "car.toml"
    mine.write_text("mine", encoding="utf-8")
    refused = told(run, monkeypatch, TYPED)
    assert (refused.status, refused.out) == (2, "")
    assert "--overwrite" in refused.err
    assert mine.read_text(encoding="utf-8") == "mine"
    other = tmp_path / "new.toml.answers"
    other.write_text("mine too", encoding="utf-8")
    refused = told(run, monkeypatch, TYPED, "--out", "new.toml")
    assert (refused.status, refused.out) == (2, "")
    assert other.read_text(encoding="utf-8") == "mine too"


@pytest.mark.parametrize(
    "words",
    [
        ("nowhere.toml",),
        (str(ROOT),),
        (CAR, "--out", CAR, "--overwrite"),
        (CAR, "--svg", CAR, "--overwrite"),
        (CAR, "--svg", "nowhere/car.svg"),
        ("--out", "a.svg", "--svg", "a.svg"),
        (CAR, "--blank", "sheets.pdf"),
        ("--blank", "sheets.pdf", "--out", "car.toml"),
        ("--blank", "nowhere/sheets.pdf"),
    ],
)
def test_bad_input_is_one_line(run: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    before = Path(CAR).read_bytes()
    result = run("car", *words)
    assert (result.status, result.out) == (2, "")
    assert result.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
    assert Path(CAR).read_bytes() == before


def test_a_file_is_written_again_with_comments(run: Run, tmp_path: Path) -> None:
    result = run("car", CAR, "--out", "tidy.toml", "--svg", "tidy.svg")
    assert (result.status, result.err) == (0, "")
    assert read_car(tmp_path / "tidy.toml") == read_car(Path(CAR))
    assert "# 2: chamber, 1.60 to 2.05 m" in (tmp_path / "tidy.toml").read_text(encoding="utf-8")


def test_empty_sheets_are_written_without_a_question(run: Run, tmp_path: Path) -> None:
    result = run("car", "--blank", "sheets.pdf", "--paper", "letter")
    assert (result.status, result.err) == (0, "")
    assert (tmp_path / "sheets.pdf").read_bytes().startswith(b"%PDF")
    assert run("car", "--blank", "sheets.pdf").status == 2  # not overwritten unasked
    assert [file.name for file in tmp_path.iterdir()] == ["sheets.pdf"]


@pytest.mark.parametrize(("units", "wide_pt"), [("inch", 612.0), ("metric", 595.28)])
def test_empty_sheets_are_in_the_units_shown_and_on_the_paper_that_goes_with_them(
    run: Run, tmp_path: Path, units: str, wide_pt: float
) -> None:
    """Letter is 8.5 in wide (ANSI Y14.1), A4 210 mm (ISO 216); a point is 1/72 in."""
    assert run("car", "--blank", "sheets.pdf", "--units", units).status == 0
    printed = Printed((tmp_path / "sheets.pdf").read_bytes())
    assert float(printed.pdf.pages[0].width) == pytest.approx(wide_pt, abs=0.1)
    assert ("8 to 12 in" in printed.text) == (units == "inch")
    assert ("200 to 300 mm" in printed.text) == (units == "metric")


def test_without_blocks_the_picture_is_plain(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    blocks = run("car", CAR).out
    monkeypatch.setattr("logger.command.tables.car.can_show_blocks", lambda _: False)
    plain = run("car", CAR).out
    assert "█" in blocks
    assert "█" not in plain
    assert "##########" in plain


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal there")
def test_on_a_terminal_ctrl_c_loses_nothing(tmp_path: Path) -> None:
    """The real program on a real terminal: typed at, broken off, and gone on with."""
    status, seen = _typed_on_a_terminal(tmp_path, [*TYPED[:5], CTRL_C])
    assert status == 130
    assert "5 answers are kept in car.toml.answers" in seen
    status, seen = _typed_on_a_terminal(tmp_path, TYPED[5:])
    assert status == 0
    assert "The car is in car.toml." in seen
    assert read_car(tmp_path / "car.toml").pipe_length_m == pytest.approx(4.02)


def _typed_on_a_terminal(folder: Path, lines: list[str]) -> tuple[int, str]:
    """Type a line at each prompt; gives the exit status and all that was on the screen.

    A Ctrl-C between a prompt and the reading of its line is lost, so it is typed again, as a person
    would.
    """
    import pty

    child, terminal = pty.fork()
    if child == 0:
        os.chdir(folder)
        here = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm"}
        os.execve(sys.executable, [sys.executable, str(ROOT / "pipenote.py"), "car"], here)
    seen = b""
    for number, line in enumerate(lines, start=1):
        until_s = time.monotonic() + _PATIENCE_S
        while seen.count(b"  > ") < number and time.monotonic() < until_s:
            seen += _read(terminal, 1.0) or b""
        os.write(terminal, line.encode() if line == CTRL_C else f"{line}\n".encode())
    until_s = time.monotonic() + _PATIENCE_S
    while (more := _read(terminal, 2.0)) != b"":
        if more is None:
            assert time.monotonic() < until_s, seen
            os.write(terminal, CTRL_C.encode() if lines[-1] == CTRL_C else b"")
        seen += more or b""
    os.close(terminal)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), seen.decode("utf-8", "replace")


def _read(terminal: int, within_s: float) -> bytes | None:
    """Give what came; None where nothing did, nothing once the other end is closed."""
    if not select.select([terminal], [], [], within_s)[0]:
        return None
    try:
        return os.read(terminal, 4096)
    except OSError:
        return b""
