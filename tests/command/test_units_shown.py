"""Inches alone, or millimetres alone: what is not asked for is nowhere to be read."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import html
import io
import re
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from rich.console import Console, RenderableType

from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.plan import plan_build
from analysis.report.page import render_page
from analysis.words.shown import Units, showing
from logger.command.tables.size import size_text
from tests.analysis.build.sheets.test_every_page import KINDS
from tests.analysis.report.examples import every_case
from tests.command_line import BASELINE, CAR, POSTFIX, Run

pytestmark = pytest.mark.usefixtures("done_once")

_NUMBER = r"(?:\d|})(?:[.:,\d]*f?})? "
# a length, temperature or speed with its unit, an axis or a column of such, a name of the unit
METRIC = re.compile(
    rf"{_NUMBER}(?:mm|cm|m|°C|K|km/h|m/s)\b(?!³)|\((?:mm|m|°C)\)|\bper (?:mm|°C)|millimetre"
)
INCH = re.compile(rf"{_NUMBER}(?:in|ft|°F|mph|ft/s)\b(?! [a-z])|\((?:in|°F)\)|\bper (?:1/8 in|°F)")
PAGES = ("place-kept", "two-cans", "on-each-pipe", "no-cure", "cured", "moved")
SHEETS = ("one, straight", "one, folded", "two on each pipe", "cans, bent", "can, fixed")
UNASKED = [(Units.INCH, METRIC), (Units.METRIC, INCH)]
# what a unit is needed for on purpose: files and options typed, laws, names of tube as it is sold
ON_PURPOSE = re.compile(
    r"pipenote (?:report|history|compare) [^\n]*|\d[\d.]* (?:in|mm) x \d[\d.]* (?:in|mm)"
)


def read(page: str) -> str:
    """What the page says, in its charts too."""
    scripts = re.findall(r'<script type="application/json"[^>]*>(.*?)</script>', page, re.DOTALL)
    said = [
        text
        for script in scripts
        for text in re.findall(r'"(?:text|name|title|hovertemplate)":\s*"([^"]*)"', script)
    ]
    prose = re.sub(r"<(script|style)\b.*?</\1>|<[^>]+>", "\n", page, flags=re.DOTALL)
    return html.unescape("\n".join([prose, *said]))


def shown(table: RenderableType) -> str:
    out = io.StringIO()
    Console(file=out, width=200).print(table)
    return out.getvalue()


def printed_on(pdf: bytes) -> str:
    pages = pdfium.PdfDocument(pdf)
    return "\n".join(page.get_textpage().get_text_range() for page in pages)


def unasked(text: str, other: re.Pattern[str]) -> list[str]:
    """Lines that hold what was not asked for."""
    kept = ON_PURPOSE.sub("", text.replace("\r", "").replace("\u00a0", " "))
    return [line for line in kept.splitlines() if other.search(line)]


@pytest.mark.parametrize(("units", "other"), UNASKED)
def test_every_answer_is_in_the_units_asked_for(
    run: Run, tmp_path: Path, units: Units, other: re.Pattern[str]
) -> None:
    page, proof, sheets = tmp_path / "page.html", tmp_path / "proof.html", tmp_path / "build.pdf"
    asked = ("--car", CAR, "--units", units)
    told = [
        run("report", BASELINE, *asked, "--out", page, "--sheets", sheets).out,
        run("report", BASELINE, POSTFIX, *asked, "--out", proof).out,
        run("size", BASELINE, *asked).out,
        run("size", BASELINE, *asked, "--full").out,
        run("find", BASELINE, *asked).out,
        run("compare", BASELINE, POSTFIX, *asked).out,
        run("car", CAR, "--units", units).out,
        read(page.read_text(encoding="utf-8")),
        read(proof.read_text(encoding="utf-8")),
        printed_on(sheets.read_bytes()),
    ]
    assert unasked("\n".join(told), other) == []


@pytest.mark.parametrize(("units", "other"), UNASKED)
def test_every_kind_of_page_is_in_the_units_asked_for(units: Units, other: re.Pattern[str]) -> None:
    with showing(units):
        cases = every_case()
        for name in PAGES:
            case = cases[name]
            assert unasked(read(render_page(case)), other) == [], name
            if case.sizing is not None:
                assert unasked(shown(size_text(case.sizing)), other) == [], name


def test_every_kind_of_sheet_is_in_inches_where_they_are_asked_for() -> None:
    with showing(Units.INCH):
        for name in SHEETS:
            sized, wishes = KINDS[name]
            pdf = build_sheets(plan_build(sized, wishes), PAPERS["letter"])
            assert unasked(printed_on(pdf), METRIC) == [], name
