"""The page of a history: the answer first, one picture, nothing told by colour alone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from analysis.answers.history_answer import history_answer
from analysis.basics.cure import CURED_DB
from analysis.compare.history import History
from analysis.report.blocks import Chart, Note, Table, Tone
from analysis.report.compared.figure_history import history_chart, history_lines
from analysis.report.compared.history_page import history_sections, render_history
from tests.analysis.compare.history_examples import (
    BAND,
    BASELINE,
    Outing,
    day,
    drive,
    history_of,
    three_drives,
)
from tests.analysis.made_findings import make_band
from tests.analysis.report.examples import PROVENANCE
from tests.analysis.report.outline import outline

TAG = "<img src=x onerror=alert(1)>"
SECOND = make_band(1.5, 1800.0, level_db=72.0)


def eight_drives() -> History:
    """Two drones, and every kind of drive."""
    outings = [
        Outing(name="a", found=replace(BASELINE, bands=(BAND, SECOND))),
        Outing(name="worse", found=drive(5.0, (BAND, SECOND))),
        Outing(name="same", found=BASELINE),
        Outing(name="other unit", found=replace(BASELINE, level_unit="dB SPL")),
        Outing(name="no drone met", found=replace(BASELINE, curves=())),
        Outing(name="less gain", found=drive(-13.0, gain_db=-9.0, other_orders=())),
        Outing(name="cut", found="too short"),
        Outing(name="a name that is much too long for a picture", found=drive(-14.0)),
    ]
    timed = (replace(each, start_time_utc=day(n)) for n, each in enumerate(outings, start=1))
    return history_of(*timed, unreadable=(("lost", "no session.json"),))


CASES = {
    "three": three_drives(),
    "eight": eight_drives(),
    "no-drone": history_of(
        Outing(name="a", found=drive(), start_time_utc=day(1)),
        Outing(name="b", found=drive(), start_time_utc=day(2)),
    ),
}


def chart_of(history: History) -> Chart:
    chart = history_chart(history)
    assert chart is not None
    return chart


@pytest.mark.parametrize("name", CASES)
def test_the_first_thing_is_the_answer_and_then_one_picture(name: str) -> None:
    blocks = history_sections(CASES[name])[0].blocks
    assert isinstance(blocks[0], Note)
    assert blocks[0].text == history_answer(CASES[name])
    charts = [block for section in history_sections(CASES[name]) for block in section.blocks]
    assert sum(isinstance(block, Chart) for block in charts) == (0 if name == "no-drone" else 1)
    if name != "no-drone":
        assert isinstance(blocks[1], Chart)


def test_only_a_cure_of_all_drones_is_called_good() -> None:
    first = [history_sections(CASES[name])[0].blocks[0] for name in ("three", "eight")]
    assert [note.tone for note in first if isinstance(note, Note)] == [Tone.GOOD, Tone.CARE]


@pytest.mark.parametrize("name", CASES)
def test_the_page_nests_loads_nothing_and_leaves_no_number_raw(name: str) -> None:
    page = render_history(CASES[name], PROVENANCE)
    seen = outline(page)
    assert seen.open == []
    assert seen.loads == ["data:,"]
    assert len(seen.ids) == len(set(seen.ids))
    assert set(seen.references) <= set(seen.ids)
    assert seen.headings[0][0] == 1
    assert page.count("/* plotly.js */") == len(seen.json_texts) == (name != "no-drone")
    assert all(json.loads(text)["layout"]["height"] > 0 for text in seen.json_texts)
    body = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)
    assert not re.search(r"\b(nan|None|inf)\b", re.sub(r"<[^>]+>", " ", body))


def test_each_line_differs_in_more_than_colour_and_reads_out_units() -> None:
    for name in ("three", "eight"):
        traces = chart_of(CASES[name]).figure.data
        lines = [t for t in traces if t.xaxis != "x2"]
        assert len({(t.line.dash, t.marker.symbol) for t in lines}) == len(lines) > 2
        assert all("rpm" in t.hovertemplate and "dB" in t.hovertemplate for t in lines)
        assert all("dB" in t.hovertemplate for t in traces)


def test_the_lines_lie_where_the_changes_say() -> None:
    baseline, first, trimmed = [t for t in chart_of(three_drives()).figure.data if t.xaxis != "x2"]
    at = int(np.abs(np.asarray(baseline.x) - BAND.peak_rpm).argmin())
    down = [float(t.y[at] - baseline.y[at]) for t in (first, trimmed)]
    assert down == pytest.approx([-6.5, -14.0], abs=0.5)


def test_passes_left_out_of_a_comparison_do_not_move_its_line() -> None:
    """As when only the quieter gear is driven in both: before and after are both 6 dB lower."""
    history = three_drives()
    first, second, third = history.drives
    assert third.comparison is not None
    lower = tuple(
        replace(curve, before_db=curve.before_db - 6.0, after_db=curve.after_db - 6.0)
        for curve in third.comparison.curves
    )
    third = replace(third, comparison=replace(third.comparison, curves=lower))
    _, level_db = history_lines(history)["trimmed"]
    _, moved_db = history_lines(replace(history, drives=(first, second, third)))["trimmed"]
    assert moved_db == pytest.approx(level_db)


def test_overall_levels_are_no_line_of_an_order() -> None:
    history = three_drives()
    first, second, third = history.drives
    assert second.comparison is not None
    by_level = replace(second, comparison=replace(second.comparison, level_unit="dB(A)"))
    assert set(history_lines(replace(history, drives=(first, by_level, third)))) == {
        "baseline",
        "trimmed",
    }


def test_a_drive_has_one_symbol_in_both_panels() -> None:
    traces = chart_of(three_drives()).figure.data
    above = {t.name: t.marker.symbol for t in traces if t.xaxis != "x2"}
    below = {t.name: t.marker.symbol for t in traces if t.xaxis == "x2" and t.error_x.array}
    assert below
    assert all(above[name] == symbol for name, symbol in below.items())


def test_the_lower_panel_holds_each_change_its_interval_and_the_line_of_a_cure() -> None:
    history = three_drives()
    figure = chart_of(history).figure
    points = {t.name: t for t in figure.data if t.xaxis == "x2" and t.error_x.array}
    for each in history.drives[1:]:
        assert each.comparison is not None
        change = each.comparison.changes[0]
        point = points[each.name]
        assert point.x[0] == pytest.approx(change.level_change_db, abs=0.01)
        assert point.x[0] + point.error_x.array[0] == pytest.approx(change.ci95_db.high, abs=0.02)
        assert point.x[0] - point.error_x.arrayminus[0] == pytest.approx(
            change.ci95_db.low, abs=0.02
        )
    assert CURED_DB in [shape.x0 for shape in figure.layout.shapes if shape.yref == "y2 domain"]


def test_no_name_is_written_across_the_drone() -> None:
    """The legend names the lines, each with its shade, dash and symbol."""
    for case in ("three", "eight"):
        annotations = chart_of(CASES[case]).figure.layout.annotations
        assert annotations
        assert {each.yref for each in annotations} == {"y2"}


def test_what_cannot_be_drawn_is_written_in_its_row() -> None:
    texts = [a.text for a in chart_of(CASES["eight"]).figure.layout.annotations]
    assert "<b>other unit</b>: not compared" in texts
    assert "<b>no drone met</b>: cannot tell" in texts
    assert any(text.startswith("<b>a name that is mu…</b>") for text in texts)
    assert any(text.endswith("; gain?") for text in texts)
    assert any(text.endswith("; best") for text in texts)


def test_every_drive_has_a_row_and_no_column_is_empty() -> None:
    for name, drives, columns in (("three", 3, 5), ("eight", 7, 5), ("no-drone", 2, 3)):
        (table,) = [b for b in history_sections(CASES[name])[0].blocks if isinstance(b, Table)]
        assert len(table.rows) == drives
        assert {len(row) for row in table.rows} == {len(table.head)} == {columns}


def test_what_is_left_out_is_said_with_the_reason() -> None:
    blocks = history_sections(CASES["eight"])[1].blocks
    notes = {block.label: block.text for block in blocks if isinstance(block, Note)}
    assert notes["Drive 'lost'"] == "Left out: no session.json."
    assert notes["Drive 'cut'"] == "Left out: too short."
    assert "calibrate" in notes["Drive 'other unit'"]
    assert len(history_sections(three_drives())) == 1


def test_tags_from_folders_and_sessions_stay_text() -> None:
    odd = history_of(
        Outing(name=TAG, found=replace(BASELINE, level_unit=TAG), start_time_utc=day(1)),
        Outing(
            name=f"b{TAG}",
            found=replace(BASELINE, level_unit=TAG),
            start_time_utc=day(2),
            note=TAG,
        ),
        unreadable=((TAG, TAG),),
    )
    page = render_history(odd, replace(PROVENANCE, inputs=(TAG,)))
    assert TAG not in page
    assert "img" not in outline(page).tags
