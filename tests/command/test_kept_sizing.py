"""``size --keep`` keeps what is to be built beside the session; ``compare`` takes it from there."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from logger.session.kept_sizing import kept_sizing
from tests.command_line import BASELINE, CAR, POSTFIX, Run, only_document

pytestmark = pytest.mark.usefixtures("done_once")


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """A baseline of one's own, to keep something with; of its exhaust nothing is known: quick."""
    own = tmp_path / "baseline"
    shutil.copytree(BASELINE, own)
    (own / "sizing.json").unlink()
    about = json.loads((own / "session.json").read_text(encoding="utf-8"))
    del about["car"]["exhaust"], about["car"]["room"]
    (own / "session.json").write_text(json.dumps(about, indent=2), encoding="utf-8")
    return own


def kept(mine: Path, **changed: object) -> None:
    """Keep one branch, as ``size --json`` writes it, in another place and tube than size says."""
    branch = {
        "leg": None,
        "length_mm": 909.0,
        "inner_diameter_mm": 47.5,
        "end_correction_mm": 9.0,
        "tube": "2 in x 0.065 in",
        "can": None,
        "position_mm": 1200.0,
        "tuned_hz": 112.0,
        "gas_temperature_c": 140.0,
    }
    document = {
        "schema": 1,
        "target": {"engine_order": 3.0, "peak_hz": 112.1, "low_hz": 104.4, "high_hz": 120.2},
        "branches": [branch | changed],
    }
    (mine / "sizing.json").write_text(json.dumps(document), encoding="utf-8")


def test_what_size_says_is_kept_once_and_is_its_document(run: Run, mine: Path) -> None:
    assert "--keep" in run("size", mine, "--car", CAR).out.splitlines()[-1]
    told = only_document(run("size", mine, "--car", CAR, "--keep", "--json"), "size")
    assert json.loads((mine / "sizing.json").read_text(encoding="utf-8")) == told
    plain = run("size", mine, "--car", CAR)
    assert "--keep" not in plain.out.splitlines()[-1]  # it is kept
    again = run("size", mine, "--car", CAR, "--keep")
    assert (again.status, again.out) == (2, "")
    assert "--overwrite" in again.err
    assert "Kept in" in run("size", mine, "--car", CAR, "--keep", "--overwrite").out


def test_nothing_is_kept_unasked(run: Run, mine: Path) -> None:
    assert run("size", mine, "--car", CAR).status == 0
    assert not (mine / "sizing.json").exists()


def test_compare_takes_branch_place_and_tube_as_kept(run: Run, mine: Path) -> None:
    kept(mine)
    plain = run("compare", mine, POSTFIX)
    assert "Built: 909 mm (35 13/16 in) at 1200 mm (47 1/4 in) (as size --keep kept" in plain.out


def test_without_a_car_file_the_kept_branches_are_trimmed(run: Run) -> None:
    kept_too = json.loads((Path(BASELINE) / "sizing.json").read_text("utf-8"))["branches"]
    trims = only_document(run("compare", BASELINE, POSTFIX, "--json"), "compare")["trim"]
    assert [trim["built_length_mm"] for trim in trims] == pytest.approx(
        [branch["length_mm"] for branch in kept_too]
    )


def test_where_the_sleeve_stands_is_told_in_its_own_millimetres(run: Run, mine: Path) -> None:
    """A sleeve of 2 in bore on a tube of 1.870 in: 1 mm counts as 1.1438 mm of tube, by hand."""
    kept(mine, slide_mm=[860.0, 960.0])
    as_kept = run("compare", mine, POSTFIX).out
    assert (
        "Built: 860 mm (33 7/8 in) of tube at 1200 mm (47 1/4 in) with its sleeve 43 mm" in as_kept
    )
    told = only_document(
        run("compare", mine, POSTFIX, "--built", "sleeve 60 mm", "--json"), "compare"
    )
    for trim in told["trim"]:
        assert trim["built_length_mm"] == pytest.approx(860.0 + 60.0 * 1.1438, abs=0.1)
    pushed_in = run("compare", mine, POSTFIX, "--built", "sleeve 0")
    assert "with its sleeve pushed in" in pushed_in.out


def test_a_sleeve_that_cannot_be_is_refused(run: Run, mine: Path) -> None:
    kept(mine)
    fixed = run("compare", mine, POSTFIX, "--built", "sleeve 60 mm")
    assert fixed.status == 2
    assert "fixed cap" in fixed.err
    kept(mine, slide_mm=[860.0, 960.0])
    off = run("compare", mine, POSTFIX, "--built", "sleeve 400 mm")
    assert off.status == 2
    assert "cannot stand 400 mm (15 3/4 in) out" in off.err
    kept(mine, slide_mm=[960.0, 860.0])
    damaged = run("compare", mine, POSTFIX)
    assert damaged.status == 2
    assert '"slide_mm" must be two lengths, the shorter one first' in damaged.err


def test_the_place_kept_for_a_second_branch_is_read_back(mine: Path) -> None:
    kept(mine)
    assert (one := kept_sizing(mine)) is not None
    assert one.kept is None
    file = mine / "sizing.json"
    document = json.loads(file.read_text("utf-8"))
    second = document["branches"][0] | {"position_mm": 400.0, "length_mm": 520.0}
    file.write_text(json.dumps(document | {"kept_place": [second]}), encoding="utf-8")
    assert (two := kept_sizing(mine)) is not None
    assert two.kept is not None
    assert (two.kept.position_m, two.kept.length_m) == pytest.approx((0.4, 0.52))


def test_a_length_told_counts_before_the_one_that_was_kept(run: Run, mine: Path) -> None:
    kept(mine, length_mm=700.0)
    out = run("compare", mine, POSTFIX, "--built", "909 mm").out
    assert "Built: 909 mm (35 13/16 in) at 1200 mm (47 1/4 in) (as told" in out


def test_a_sizing_for_another_drone_is_not_taken(run: Run, mine: Path) -> None:
    kept(mine)
    file = mine / "sizing.json"
    file.write_text(file.read_text("utf-8").replace("112.1", "60.0"), encoding="utf-8")
    result = run("compare", mine, POSTFIX)
    assert result.status == 0
    assert "drone at 60.0 Hz, which is not found there now" in result.out


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", '{"schema": 2}', '{"schema": 1, "branches": [{}]}', '{"schema": 1e999}'],
)
def test_a_damaged_sizing_is_one_line(run: Run, mine: Path, text: str) -> None:
    (mine / "sizing.json").write_text(text, encoding="utf-8")
    result = run("compare", mine, POSTFIX)
    assert (result.status, result.out) == (2, "")
    assert result.err.count("\n") == 1
    assert "Traceback" not in result.err


@pytest.mark.parametrize("length_mm", ["long", 0.0, 1e9, None])
def test_a_length_that_cannot_be_is_one_line(run: Run, mine: Path, length_mm: object) -> None:
    kept(mine, length_mm=length_mm)
    result = run("compare", mine, POSTFIX)
    assert (result.status, result.out) == (2, "")
    assert '"length_mm" must be' in result.err


def test_drives_of_other_engines_are_refused_before_any_work(run: Run, mine: Path) -> None:
    text = (mine / "session.json").read_text("utf-8")
    (mine / "session.json").write_text(text.replace('"cylinders": 6', '"cylinders": 4'), "utf-8")
    result = run("compare", mine, POSTFIX, "--car", CAR)
    assert (result.status, result.out) == (2, "")
    assert "4 cylinders" in result.err
    assert run("compare", mine, POSTFIX, "--cylinders", "6").status == 0
