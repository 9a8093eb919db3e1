"""The page: headings in order, nothing missing, everything escaped, nothing from outside."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from itertools import pairwise

import plotly.graph_objects as go
import pytest
from plotly.offline import get_plotlyjs

from analysis.drive import Trouble
from analysis.findings import Doubt
from analysis.report.blocks import Chart
from analysis.report.page import chart_json, provenance_rows, render_page
from tests.analysis.report.compared_examples import comparison
from tests.analysis.report.examples import PROVENANCE, contents, every_case
from tests.analysis.report.found_examples import band, findings
from tests.analysis.report.outline import Outline, outline
from tests.analysis.report.sized_examples import sizing

CASES = every_case()
MOST_BYTES = 7_000_000
TAG = "<img src=x onerror=alert(1)>"


@cache
def _page(name: str) -> str:
    return render_page(CASES[name])


@cache
def _outlined(name: str) -> Outline:
    return outline(_page(name))


@pytest.mark.parametrize("name", CASES)
def test_elements_nest_and_headings_descend_by_one(name: str) -> None:
    outline = _outlined(name)
    assert outline.open == []
    levels = [level for level, _ in outline.headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert all(text.strip() for _, text in outline.headings)


@pytest.mark.parametrize("name", CASES)
def test_no_section_is_missing(name: str) -> None:
    sections = ["answer", "map", "levels", "build", "quality", "cautions"]
    if CASES[name].comparison is not None:
        sections = ["answer", "proof", "quality", "first", "map", "levels", "build", "cautions"]
    found = [i for i in _outlined(name).ids if i in {*sections, "proof", "first"}]
    assert found == sections


@pytest.mark.parametrize("name", CASES)
def test_ids_are_unique_and_references_lead_somewhere(name: str) -> None:
    outline = _outlined(name)
    assert len(outline.ids) == len(set(outline.ids))
    assert set(outline.references) <= set(outline.ids)


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_loaded_from_outside(name: str) -> None:
    icon, *clips = _outlined(name).loads
    assert icon == "data:,"
    assert all(clip.startswith("data:audio/wav;base64,") for clip in clips)
    assert "default-src 'none'" in _page(name)


def test_the_page_is_small_and_holds_plotly_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("analysis.report.page.get_plotlyjs", get_plotlyjs)
    page = render_page(CASES["cured"])  # the kind of page with the most on it
    assert len(page.encode()) < MOST_BYTES
    assert page.count("* plotly.js v") == 1
    assert page.lstrip().lower().startswith("<!doctype html>")


@pytest.mark.parametrize("name", CASES)
def test_every_chart_is_valid_json_of_fixed_height(name: str) -> None:
    charts = [json.loads(text) for text in _outlined(name).json_texts]
    assert len(charts) == _page(name).count('class="chart"') > 0
    assert all(chart["layout"]["height"] > 0 for chart in charts)


@pytest.mark.parametrize("name", CASES)
def test_no_number_is_left_raw(name: str) -> None:
    body = re.sub(r"<(script|style)\b.*?</\1>", "", _page(name), flags=re.DOTALL)
    words = re.sub(r"<[^>]+>", " ", body)
    assert not re.search(r"\b(nan|None|inf)\b", words)
    assert not re.search(r"\d\.\d{5,}", words)


def test_numbers_carry_units_and_inches_beside_metric() -> None:
    page = _page("drone").replace("\u00a0", " ")
    for part in ("112 Hz", "2,240 rpm", "13 dB", "772 mm (30 3/8 in)", "140 °C (284 °F)"):
        assert part in page


def test_provenance_is_on_the_page() -> None:
    block = dict(provenance_rows(PROVENANCE))
    assert block["Made"] == "2026-05-04 09:30 UTC"
    assert block["With"] == "numpy 2.4.6, scipy 1.17.1, plotly 7.1.0"
    assert block["Command"] == PROVENANCE.command
    drive = f"<dt>Drive</dt><dd>{CASES['drone'].findings.drive_name}</dd>"
    assert all(value in _page("drone") for value in (*block.values(), drive))


def test_tags_from_files_stay_text() -> None:
    doubt = (Doubt(code=TAG, message=TAG),)
    found = replace(
        findings(band(), name=TAG, warnings=doubt, trouble=(Trouble(code=TAG, message=TAG),)),
        level_unit=TAG,
    )
    compared = replace(
        comparison(),
        baseline_name=TAG,
        postfix_name=TAG,
        warnings=doubt,
        changes=(replace(comparison().changes[0], why=TAG),),
    )
    sized = replace(sizing(), assumptions=(TAG,), warnings=doubt)
    made = replace(
        PROVENANCE, software_version=TAG, command=TAG, inputs=(TAG,), versions=((TAG, TAG),)
    )
    page = render_page(replace(contents(found, sized, compared, found), provenance=made))
    assert TAG not in page
    assert "img" not in outline(page).tags
    assert page.count("&lt;img src=x onerror=alert(1)&gt;") > 10


def test_a_script_end_inside_a_chart_stays_inside() -> None:
    plain = findings(band())
    odd = replace(plain, level_unit="</script><script>alert(1)</script>")
    count = outline(render_page(contents(plain))).tags.count("script")
    assert outline(render_page(contents(odd))).tags.count("script") == count


def test_chart_json_cannot_end_its_script_element() -> None:
    text = "</script><!-- & -->"
    figure = go.Figure(go.Scatter(x=[1.0], y=[2.0], name=text))
    made = chart_json(Chart(name="a", title="a", summary="a.", figure=figure))
    assert not set("<>&") & set(made)
    assert json.loads(made)["data"][0]["name"] == text


def test_the_time_is_shown_in_utc() -> None:
    made = replace(PROVENANCE, made_at_utc=datetime(2027, 1, 2, 3, 4, tzinfo=UTC))
    block = dict(provenance_rows(made))
    assert block["Made"] == "2027-01-02 03:04 UTC"
