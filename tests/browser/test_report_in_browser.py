"""The page in a real browser, cut off from the network."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pypdfium2 as pdfium
import pytest

from analysis.find.causes import _WITH_A_SECOND_MICROPHONE, _exhaust_or_else
from analysis.findings import Cause, Doubt, LockedTo
from analysis.report.compared.history_page import render_history
from analysis.report.page import render_page
from tests.analysis.compare.history_examples import three_drives
from tests.analysis.report.examples import PROVENANCE, every_case
from tests.analysis.report.sized.test_line import picture

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, ViewportSize

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")

PHONE: ViewportSize = {"width": 360, "height": 740}
DESKTOP: ViewportSize = {"width": 1200, "height": 900}


@dataclass
class Visit:
    """One opened page and what went wrong on it."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def open(self, file: Path) -> None:
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(file.as_uri())
        self.page.wait_for_selector("html[data-drawn]", state="attached")

    def unfold(self) -> None:
        """Open every folded section, and wait until its charts are drawn."""
        self.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        self.wait_for("Array.from(document.querySelectorAll('.chart')).every(box => box.data)")

    def wait_for(self, expression: str) -> None:
        """Ask again and again; the browser's own waiting is eval, which the page forbids."""
        for _ in range(600):
            if self.page.evaluate(expression):
                return
            self.page.wait_for_timeout(50)
        raise AssertionError(expression)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("reports")
    cases = every_case()
    made = {}
    for name in ("cured", "levels-only", "two-cans"):
        made[name] = folder / f"{name}.html"
        made[name].write_text(render_page(cases[name]), encoding="utf-8")
    made["history"] = folder / "history.html"
    page = render_history(three_drives(), PROVENANCE)
    made["history"].write_text(page, encoding="utf-8")
    return made


def _visit(browser: Browser, file: Path, size: ViewportSize) -> Visit:
    visit = Visit(page=browser.new_context(offline=True, viewport=size).new_page())
    visit.open(file)
    return visit


_WORDS_BEYOND_THEIR_DRAWING = """
    Array.from(document.querySelectorAll("svg.drawing text"))
        .filter(word => {
            const box = word.getBoundingClientRect();
            const room = word.ownerSVGElement.getBoundingClientRect();
            return box.left < room.left || box.right > room.right;
        })
        .map(word => word.textContent)
"""


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("cured", DESKTOP),
        ("two-cans", PHONE),
        ("levels-only", PHONE),
        ("history", DESKTOP),
        ("history", PHONE),
    ],
)
def test_the_page_draws_offline_without_complaint(
    browser: Browser, files: dict[str, Path], name: str, size: ViewportSize
) -> None:
    visit = _visit(browser, files[name], size)
    visit.unfold()
    outside = [url for url in visit.requests if not url.startswith(("file:", "data:", "blob:"))]
    assert outside == []
    assert visit.complaints == []
    boxes = visit.page.locator(".chart").all()
    assert boxes
    drawn = ", ".join(f".cartesianlayer {mark}" for mark in (".trace", ".hm", ".contour"))
    assert all(box.locator(drawn).count() for box in boxes)
    assert visit.page.locator(".chart .xtick").count() >= 2 * len(boxes)
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert visit.page.evaluate(_WORDS_BEYOND_THEIR_DRAWING) == []
    visit.page.context.close()


def test_pointing_at_the_map_reads_rpm_hertz_and_decibels(
    browser: Browser, files: dict[str, Path]
) -> None:
    visit = _visit(browser, files["cured"], DESKTOP)
    visit.unfold()
    chart = visit.page.locator("#chart-map")
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    assert box is not None
    visit.page.mouse.move(box["x"] + 0.15 * box["width"], box["y"] + 0.30 * box["height"])
    visit.page.mouse.move(box["x"] + 0.16 * box["width"], box["y"] + 0.30 * box["height"])
    label = visit.page.locator("#chart-map .hovertext")
    label.first.wait_for()
    text = label.first.text_content() or ""
    assert "rpm" in text
    assert "Hz" in text
    assert "dB" in text
    visit.page.context.close()


@pytest.mark.parametrize("name", ["cured", "history"])
def test_printing_keeps_every_chart_within_the_paper(
    browser: Browser, files: dict[str, Path], name: str
) -> None:
    visit = _visit(browser, files[name], DESKTOP)
    visit.unfold()
    visit.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    widths = visit.page.evaluate(
        "Array.from(document.querySelectorAll('.chart .main-svg'), s => s.clientWidth)"
    )
    # A4 is 210 mm wide: 180 mm between the margins, at 96 px per 25.4 mm (CSS) 680 px.
    assert widths
    assert max(widths) <= 680
    assert visit.page.pdf(format="A4")[:5] == b"%PDF-"
    visit.page.context.close()


# one branch, two, one on each pipe, a can, one that cures nothing, and no drone
ONE_PAGE = ("drone", "two-branches", "on-each-pipe", "two-cans", "no-cure", "quiet")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_answer_prints_on_one_page(browser: Browser, tmp_path: Path, paper: str) -> None:
    cases = every_case()
    for name in ONE_PAGE:
        file = tmp_path / f"{name}.html"
        shown = cases[name]
        if shown.sizing is not None:  # with the picture of its exhaust
            line = replace(picture(-15.0), legs=shown.sizing.branches[0].legs)
            shown = replace(shown, sizing=replace(shown.sizing, line=line))
        file.write_text(render_page(shown), encoding="utf-8")
        visit = _visit(browser, file, DESKTOP)
        printed = pdfium.PdfDocument(visit.page.pdf(format=paper))
        text = printed[0].get_textpage().get_text_range()
        assert len(printed) == 1, name
        assert ("Weld it at" in text) == (name not in ("no-cure", "quiet")), name
        printed.close()
        visit.page.context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_two_cans_with_all_that_may_be_said_of_them_stay_on_one_page(
    browser: Browser, tmp_path: Path, paper: str
) -> None:
    """A doubt of the drive, a check of the cause, another place, and a doubt of the cure."""
    shown = every_case()["two-cans"]
    assert shown.sizing is not None
    found = shown.findings
    doubts = (Doubt(code="clipped_audio", message="The sound is clipped."),) * 2
    checks = (_WITH_A_SECOND_MICROPHONE, *_exhaust_or_else("2,880 rpm to 3,160 rpm"))
    causes = (replace(_cause(), to_decide=checks),)
    weak = Doubt(code="cure_uncertain", message="A cure is not sure. Measure the gas.")
    sized = replace(
        shown.sizing,
        line=picture(-15.0),
        warnings=(weak, weak),
        as_good=(shown.sizing.branches,),
    )
    page = replace(shown, findings=replace(found, warnings=doubts, causes=causes), sizing=sized)
    file = tmp_path / "full.html"
    file.write_text(render_page(page), encoding="utf-8")
    visit = _visit(browser, file, DESKTOP)
    printed = pdfium.PdfDocument(visit.page.pdf(format=paper))
    text = " ".join(printed[0].get_textpage().get_text_range().split())
    for part in ("Weld it at", "As good", "Check first", "Look out", "first of the build sheets"):
        assert part in text
    assert len(printed) == 1
    printed.close()
    visit.page.context.close()


def _cause() -> Cause:
    return Cause(
        frequency_hz=112.0,
        bands=(1,),
        locked_to=LockedTo.ENGINE,
        evidence=(),
        suspects=(),
        to_decide=(),
    )


def test_a_link_opens_what_it_leads_to(browser: Browser, files: dict[str, Path]) -> None:
    visit = _visit(browser, files["cured"], DESKTOP)
    visit.page.get_by_role("navigation").get_by_role("link").first.click()
    visit.wait_for("document.querySelector(':target details').open")
    visit.page.context.close()


def test_both_pieces_of_the_drone_can_be_played(browser: Browser, tmp_path: Path) -> None:
    file = tmp_path / "heard.html"
    file.write_text(render_page(every_case()["drone"]), encoding="utf-8")
    visit = _visit(browser, file, DESKTOP)
    visit.unfold()
    lengths_s = visit.page.evaluate(_LENGTHS_OF_SOUND)
    assert lengths_s == [10, 10]
    assert visit.complaints == []
    visit.page.context.close()


_LENGTHS_OF_SOUND = """
    Promise.all(Array.from(document.querySelectorAll("audio"), (sound) =>
        new Promise((done, failed) => {
            sound.addEventListener("loadedmetadata", () => done(sound.duration));
            sound.addEventListener("error", () => failed(sound.error.message));
            sound.preload = "auto";
            sound.load();
        })
    ))
"""
