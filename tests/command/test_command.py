"""The command as scripts call it: one document, files written once, help."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import re
import shlex
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import analysis.job
from analysis.branches import Sizing
from analysis.exhaust.car_edit import KEY
from analysis.findings import Findings, LockedTo
from analysis.size.request import SizingRequest
from tests.analysis.size.test_two_pipes import on_each
from tests.command_line import (
    BASELINE,
    CAR,
    OLD_LEVELS,
    POSTFIX,
    SESSIONS,
    Result,
    Run,
    fingerprint,
    only_document,
)
from tests.drives.make_recorded_sessions import GAS_C
from tests.drives.make_recorded_sessions import POSTFIX as BUILT
from tests.drives.spec import WholeExhaust
from tests.garage.level import tuned_hz

pytestmark = pytest.mark.usefixtures("done_once")

AS_BUILT = (BASELINE, POSTFIX, "--car", CAR)  # as in the demo


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
    # a place can only be told where the car file's sections arrived
    assert all(isinstance(branch["position_mm"], float) for branch in document["branches"])
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
    from tests.analysis.report.found_examples import findings

    monkeypatch.setattr("analysis.find.drone.find_drone", lambda drive, progress: findings())
    assert only_document(run("find", BASELINE, "--json"), "find")["drone_bands"] == []
    assert "No drone" in run("find", BASELINE).out
    document = only_document(run("size", BASELINE, "--json"), "size")
    assert document["branches"] == []
    assert [warning["code"] for warning in document["warnings"]] == ["nothing_to_size"]
    assert _next_of(run("size", BASELINE)) == ["find", BASELINE]


def test_compare_gives_one_document(run: Run) -> None:
    document = only_document(run("compare", BASELINE, POSTFIX, "--json"), "compare")
    assert document["bands"][0]["engine_order"] == 3.0


def test_the_gas_that_compare_found_is_what_the_next_size_works_with(
    run: Run, tmp_path: Path
) -> None:
    """The recorded branch was drawn with one gas; told of it, ``size`` need not allow for all."""
    new = tmp_path / "new.toml"
    document = only_document(run("compare", *AS_BUILT, "--write-car", new, "--json"), "compare")
    line = f'branch_gas_temperature = "{document["car_file"][KEY]}"\n'
    old_text, new_text = (Path(car).read_text(encoding="utf-8") for car in (CAR, new))
    assert new_text.replace(line, "") == old_text
    sized = {}
    for told, text in ("before", old_text), ("after", new_text):
        car = tmp_path / f"{told}.toml"
        car.write_text(without_sections(text), encoding="utf-8")  # by the length alone: quick
        words = ("size", "--hz", 112, "--branches", 1, "--car", car, "--json")
        ((shortest, longest),) = (
            branch["length_mm_range"] for branch in only_document(run(*words), "size")["branches"]
        )
        sized[told] = longest / shortest - 1.0
    assert sized["after"] < 0.5 * sized["before"]


def without_sections(car: str) -> str:
    """The part of a car file that does not say what the exhaust is made of, nor where is room."""
    return car.partition("[[exhaust.section]]")[0]


def test_compare_says_what_to_trim_only_of_what_was_built(run: Run) -> None:
    document = only_document(run("compare", *AS_BUILT, "--json"), "compare")
    kept = json.loads((Path(BASELINE) / "sizing.json").read_text(encoding="utf-8"))["branches"]
    assert isinstance(BUILT.exhaust, WholeExhaust)
    true_hz = [
        tuned_hz(BUILT.exhaust.car, branch, number, near_hz=112.0)
        for number, branch in enumerate(BUILT.exhaust.branches)
    ]
    assert len(document["trim"]) == len(kept) == len(true_hz)
    for trim, branch, hz in zip(document["trim"], kept, true_hz, strict=True):
        assert trim["built_length_mm"] == pytest.approx(branch["length_mm"])
        assert trim["works_at_hz"] == pytest.approx(hz, rel=0.01)
        assert trim["gas_temperature_c"] == pytest.approx(GAS_C, abs=15.0)
        assert not trim["is_worth_it"]
        assert trim["cut_mm"] == pytest.approx(0.0, abs=0.01)
    foretold_db = document["trim_outlook"]["level_change_db_as_built"]
    assert document["bands"][0]["highest_change_db"] == pytest.approx(foretold_db, abs=1.5)


def test_the_demo_builds_what_size_says_and_gets_what_it_promised(run: Run) -> None:
    """Has size changed what it says by more than a cap slides? Make the sessions again."""
    kept = json.loads((Path(BASELINE) / "sizing.json").read_text(encoding="utf-8"))
    said = only_document(run("size", BASELINE, "--car", CAR, "--json"), "size")
    assert len(said["branches"]) == len(kept["branches"])
    for now, then in zip(said["branches"], kept["branches"], strict=True):
        assert now["length_mm"] == pytest.approx(then["length_mm"], rel=0.05)
    band = only_document(run("compare", *AS_BUILT, "--json"), "compare")["bands"][0]
    low_db, high_db = kept["predicted"]["level_change_db_range"]
    assert low_db < band["highest_change_db"] < high_db
    assert band["verdict"] == "cured"


def test_build_sheets_are_written_once_and_replaced_only_when_asked(
    run: Run, tmp_path: Path
) -> None:
    out = tmp_path / "sheets.pdf"
    assert run("size", "--hz", "112", "--sheets", out).status == 0
    assert out.read_bytes().startswith(b"%PDF-")
    again = run("size", "--hz", "112", "--sheets", out)
    assert (again.status, again.out) == (2, "")
    assert (
        run("size", "--hz", "112", "--sheets", out, "--paper", "letter", "--overwrite").status == 0
    )


LINKED = """
[engine]
cylinders = 6
[[exhaust.leg]]
name = "left"
from = "bank 1"
[[exhaust.leg.section]]
kind = "pipe"
length = "2.9 m"
inner_diameter = "54.1 mm"
[[exhaust.leg]]
name = "right"
from = "bank 2"
like = "left"
[[exhaust.link]]
kind = "x"
between = ["left", "right"]
at = ["0.9 m", "0.9 m"]
"""


def test_report_of_two_pipes_with_an_x_says_one_on_each(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Such a car is sized in ``tests/analysis/size/test_two_pipes.py``."""
    asked: list[SizingRequest] = []

    def sized(request: SizingRequest, **_: object) -> Sizing:
        asked.append(request)
        return on_each()

    monkeypatch.setattr("analysis.size.size.size_branches", sized)
    car = tmp_path / "linked.toml"
    car.write_text(LINKED, encoding="utf-8")
    page = tmp_path / "page.html"
    status = run("report", BASELINE, "--car", car, "--branches", "1", "--out", page).status
    text = page.read_text(encoding="utf-8")
    assert status == 0
    assert asked[0].line is not None
    assert [pipe.name for pipe in asked[0].line.pipes] == ["left", "right"]
    assert "(left and right)" in text


def test_report_is_written_once_and_replaced_only_when_asked(run: Run, tmp_path: Path) -> None:
    page, car = tmp_path / "report.html", tmp_path / "car.toml"
    page.write_text("mine", encoding="utf-8")
    car.write_text(without_sections(Path(CAR).read_text(encoding="utf-8")), encoding="utf-8")
    command = ("report", OLD_LEVELS, "--car", car, "--out", page)
    refused = run(*command)
    assert (refused.status, page.read_text(encoding="utf-8")) == (2, "mine")
    assert "--overwrite" in refused.err
    assert run(*command, "--overwrite").status == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert {path.name for path in tmp_path.iterdir()} == {"report.html", "car.toml"}


def test_report_writes_the_build_sheets_too(run: Run, tmp_path: Path) -> None:
    page, other, sheets = (tmp_path / name for name in ("page.html", "other.html", "build.pdf"))
    asked = ("report", BASELINE, "--car", CAR, "--sheets", sheets, "--out")
    done = run(*asked, page)
    assert done.status == 0
    assert sheets.read_bytes().startswith(b"%PDF")
    assert str(sheets) in done.out
    again = run(*asked, other)
    assert again.status == 2  # never overwritten unasked
    assert "--overwrite" in again.err
    assert not other.exists()


def test_demo_says_what_its_commands_say_and_refuses_a_folder_that_exists(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("demo")
    assert (result.status, result.err) == (0, "")
    assert [path.name for path in tmp_path.iterdir()] == ["pipenote-demo"]
    pages = {path: path.read_bytes() for path in (tmp_path / "pipenote-demo").iterdir()}
    assert {path.name for path in pages} == {"report.html", "build.pdf"}
    before = fingerprint(tmp_path)
    refused = run("demo")
    assert (refused.status, fingerprint(tmp_path)) == (2, before)
    assert "--overwrite" in refused.err

    typed = re.findall(r"^.+: pipenote (.+)$", result.out, re.MULTILINE)
    assert len(typed) == 5
    for line in typed:
        said = run(*shlex.split(line)).out
        assert re.sub("^Next: .*\n", "", said, flags=re.MULTILINE) in result.out, line
    made = re.compile(rb"\d{4}-\d\d-\d\d \d\d:\d\d UTC")
    for path, page in pages.items():
        if path.suffix == ".html":
            assert made.sub(b"", path.read_bytes()) == made.sub(b"", page)


def test_help_of_every_command(run: Run) -> None:
    known = "demo check record import find size compare history report"
    for command in known.split():
        result = run(command, "--help")
        assert result.status == 0
        assert result.out.startswith(f"usage: pipenote {command}")


def test_a_narrow_terminal_loses_no_column(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    shown = run("find", OLD_LEVELS)
    assert shown.status == 0
    assert "…" not in shown.out
    for word in ("order 3", "rise", "follows"):
        assert word in shown.out


def test_every_command_ends_with_what_to_type_next(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it says can be typed, up to what is in capitals, and names the options once given."""
    monkeypatch.chdir(tmp_path)
    told = (BASELINE, "--car", CAR, "--units", "metric")
    found = _next_of(run("find", *told))
    assert found == ["size", *told]
    sized = _next_of(run(*found))
    assert sized == ["report", *told, "--sheets", "build.pdf"]  # this drive has kept its sizing
    reported = run("report", *told)
    assert _next_of(reported)[-3:] == ["compare", BASELINE, "NEW"]
    assert (tmp_path / "baseline.html").exists()
    assert run("report", *told).status == 2  # never written over unasked
    assert _next_of(run("compare", *AS_BUILT)) == ["report", *AS_BUILT]
    assert _next_of(run("car", CAR))[:5] == ["import", "memo.m4a", "log.csv", "--car", CAR]


def test_without_a_place_the_next_step_is_the_car(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No plain length is sent to the workshop while the exhaust can still be described."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(BASELINE, "drive")
    told = json.loads(Path("drive/session.json").read_text(encoding="utf-8"))
    Path("drive/session.json").write_text(json.dumps({**told, "car": None}), encoding="utf-8")
    Path("drive/sizing.json").unlink()
    sized = run("size", "drive")
    assert "Next: pipenote report" not in sized.out
    assert "pipenote car" in sized.out
    reported = run("report", "drive")
    assert reported.out.splitlines()[-1].startswith("Next: pipenote car,")


def test_a_drone_of_the_road_has_no_next_step(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    result = run("find", BASELINE)
    assert "Next:" in result.out
    find_drone = analysis.job.find

    def of_the_road(*given: Any, **named: Any) -> Findings:
        findings = find_drone(*given, **named)
        bands = tuple(replace(band, locked_to=LockedTo.ROAD) for band in findings.bands)
        return replace(findings, bands=bands)

    monkeypatch.setattr(analysis.job, "find", of_the_road)
    assert "Next:" not in run("find", BASELINE).out


def _next_of(result: Result) -> list[str]:
    """The words behind ``pipenote`` on the last line."""
    assert result.status == 0, result.err
    last = result.out.splitlines()[-1]
    assert last.startswith("Next: ")
    return shlex.split(last.partition("pipenote ")[2])
