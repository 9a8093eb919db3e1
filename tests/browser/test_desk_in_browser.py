"""The desk in a real browser: from nothing to what to cut, on a phone and in the dark."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
import shutil
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import uvicorn

from analysis.exhaust.car import read_car
from logger.desk.app import make_app
from logger.desk.gate import Rules
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
