"""The desk in a real browser: from nothing to what to cut, on a phone and in the dark."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
import shutil
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import uvicorn

from analysis.exhaust.car import read_car
from analysis.report.page import render_page
from logger.desk.app import make_app
from logger.desk.gate import Rules
from tests.analysis.report.examples import every_case
from tests.command_line import SESSIONS

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")

_LONG_MS = 120_000


@contextmanager
def served(folder: Path) -> Iterator[str]:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        host = f"127.0.0.1:{listener.getsockname()[1]}"
        app = make_app(folder, Rules(hosts=frozenset({host})))
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", access_log=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        try:
            yield f"http://{host}/"
        finally:  # or a test that fails would leave a thread that no run can end beside
            server.should_exit = True
            thread.join(timeout=30.0)
        assert not thread.is_alive()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    sync_api.expect.set_options(timeout=_LONG_MS)  # five seconds else, too few on a busy machine
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def complaints() -> list[str]:
    return []


@pytest.fixture
def page(browser: Browser, complaints: list[str]) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1200, "height": 900})
    page = context.new_page()
    page.set_default_timeout(_LONG_MS)
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()


def test_from_nothing_to_what_to_cut(tmp_path: Path, page: Page, complaints: list[str]) -> None:
    """At most 8 clicks, no field typed, nothing asked of the network beyond this machine."""
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    with served(tmp_path) as home:
        page.goto(home)
        page.get_by_role("button", name="Put the demo's drives here").click()
        page.get_by_role("link", name="baseline").click()
        page.get_by_role("button", name="Find the drone").click()
        page.wait_for_url("**/drives/baseline")
        page.get_by_role("button", name="Size the branch").click()
        page.wait_for_selector("iframe")
        answer = page.frame_locator("iframe").locator("#answer")
        sync_api.expect(answer).to_contain_text(re.compile("side branch"))
        assert all(url.startswith((home, "data:", "blob:")) for url in asked)
    assert complaints == []


SIZED, PROVED = "drives/baseline", "prove?shown=after%20against%20baseline.html"


def with_reports(folder: Path) -> None:
    shutil.copytree(SESSIONS / "baseline", folder / "baseline")
    (folder / "reports").mkdir()
    for name, case in (("baseline", "drone"), ("after against baseline", "cured")):
        page = render_page(every_case()[case])
        (folder / "reports" / f"{name}.html").write_text(page, encoding="utf-8")


# WCAG 2.2, 1.4.4: at 200 % a window of 1280 pixels has 640 of CSS
WINDOWS = {"wide": (1280, 900), "phone": (390, 844), "at 200 %": (640, 450)}


@pytest.mark.parametrize(
    ("path", "window"), [*((SIZED, each) for each in WINDOWS), (PROVED, "phone")]
)
def test_an_answer_and_its_evidence_scroll_with_the_page(
    tmp_path: Path, page: Page, complaints: list[str], path: str, window: str
) -> None:
    """One page, one scroll bar, with all folded shut, and opened, and shut again."""
    with_reports(tmp_path)
    width, height = WINDOWS[window]
    page.set_viewport_size({"width": width, "height": height})
    heights = []
    with served(tmp_path) as home:
        page.goto(f"{home}{path}")
        report = page.frame_locator("iframe")
        report.locator("html[data-drawn]").wait_for()
        for is_open in (False, True, False):
            # a browser tells a frame that is out of sight of no change of its size
            page.locator("iframe").scroll_into_view_if_needed()
            report.locator("html").evaluate(_OPEN, is_open)
            wait_for(page, lambda: report.locator("html").evaluate(_OWN_SCROLL_PX) == [0, 0])
            heights.append(page.evaluate("document.documentElement.scrollHeight"))
            assert page.evaluate("document.documentElement.scrollWidth") <= width
        report.get_by_role("navigation").get_by_role("link").last.click()
        target = report.locator("section:target")
        wait_for(page, lambda: -1 <= (target.bounding_box() or {"y": -2})["y"] < height)
        assert target.locator("details").first.evaluate("fold => fold.open")
    assert heights[0] == heights[2] < heights[1]
    assert complaints == []


def wait_for(page: Page, is_so: Callable[[], bool]) -> None:
    """Ask again and again; the browser's own waiting is eval, which the page forbids."""
    for _ in range(600):
        if is_so():
            return
        page.wait_for_timeout(50)
    raise AssertionError


_OPEN = """(page, isOpen) => {
    for (const fold of page.querySelectorAll("details")) fold.open = isOpen;
}"""
# 0 where the frame is as high as its page: no lower, which would scroll, and no higher
_OWN_SCROLL_PX = """page => [
    Math.ceil(page.getBoundingClientRect().height) - window.innerHeight,
    page.scrollWidth - window.innerWidth,
]"""


def test_an_answer_can_be_read_without_script(tmp_path: Path, browser: Browser) -> None:
    with_reports(tmp_path)
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.set_default_timeout(_LONG_MS)
    with served(tmp_path) as home:
        page.goto(f"{home}{SIZED}")
        answer = page.frame_locator("iframe").locator("#answer")
        sync_api.expect(answer).to_be_visible()
        sync_api.expect(page.get_by_role("link", name="on a page of its own")).to_be_visible()
    context.close()


def test_another_car_changes_what_its_fields_show(
    tmp_path: Path, page: Page, complaints: list[str]
) -> None:
    for name, cylinders in (("one", 6), ("two", 8)):
        text = f"[engine]\ncylinders = {cylinders}\n"
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    with served(tmp_path) as home:
        page.goto(f"{home}bring-in")
        field = page.locator("#cylinders")
        sync_api.expect(field).to_have_attribute("placeholder", "6, says one.toml")
        page.locator("#car").select_option("two.toml")
        sync_api.expect(field).to_have_attribute("placeholder", "8, says two.toml")
        page.locator("#car").select_option("")
        sync_api.expect(field).to_have_attribute("placeholder", "")
    assert complaints == []


V8_WITH_AN_X = {
    "units": "millimetres",
    "engine": "petrol",
    "cylinders": "8",
    "layout": "cross-plane V",
    "range": "1200 to 3600",
    "pipes": "two pipes",
    "left.1": "catalyst, 250, 110",
    "left.2": "pipe, 1600, 57",
    "left.3": "muffler, 450, 180",
    "left.3.type": "three-pass",
    "left.4": "pipe, 900, 57",
    "left.5": "resonator, 300, 100",
    "left.6": "pipe, 700, 57",
    "alike": "yes",
    "link": "x",
    "link.at": "900",
    "places": "300 to 1500, 2400 to 3100",
    "room": "1100, 120",
    "gas": "450 degC, 200 degC",
    "name": "ours",
}


def test_a_typed_car(tmp_path: Path, page: Page, complaints: list[str]) -> None:
    """In at most 40 fields: two pipes with an X, two mufflers and a catalyst on each."""
    assert len(V8_WITH_AN_X) <= 40
    with served(tmp_path) as home:
        page.goto(f"{home}cars")
        for name, typed in V8_WITH_AN_X.items():
            field = page.locator(f'[name="{name}"]')
            field.wait_for()
            if field.evaluate("field => field.tagName") == "SELECT":
                field.select_option(typed)
            else:
                field.fill(typed)
                field.blur()
        page.get_by_role("button", name="Write the car file").click()
        page.wait_for_url("**/cars/ours.toml")
    car = read_car(tmp_path / "ours.toml")
    assert car.engine.cylinders == 8
    assert len(car.legs) == 2
    assert complaints == []


@pytest.mark.parametrize("path", ["", "bring-in", "record", "cars", "prove", "drives/baseline"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_scrolls_sideways_on_a_phone(
    tmp_path: Path, page: Page, complaints: list[str], path: str, scheme: str
) -> None:
    for name in ("baseline", "old_levels"):
        shutil.copytree(SESSIONS / name, tmp_path / name)
    page.set_viewport_size({"width": 360, "height": 740})
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    with served(tmp_path) as home:
        page.goto(f"{home}{path}")
        width = page.evaluate("document.documentElement.scrollWidth")
        unnamed = page.evaluate(_FIELDS_WITHOUT_A_NAME)
    assert width <= 360
    assert unnamed == []
    assert complaints == []


_FIELDS_WITHOUT_A_NAME = """
    Array.from(document.querySelectorAll("input:not([type=hidden]), select, textarea, progress"))
        .filter(field => !field.labels?.length && !field.getAttribute("aria-label"))
        .map(field => field.outerHTML)
"""
