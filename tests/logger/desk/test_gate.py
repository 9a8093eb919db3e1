"""Nobody comes in who is not this machine's own browser, on a page of the desk."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.exceptions import HTTPException
from starlette.types import Message, Receive, Scope, Send

from logger.desk import gate
from logger.desk.gate import Gate, Rules
from tests.command_line import SESSIONS
from tests.logger.desk.opened import HOME, HOST, SECRET, Opened, opened

DRIVE = "baseline"
BIN = f"/drives/{DRIVE}/bin"
EVERY_POST = (
    *(
        "/demo",
        f"/drives/{DRIVE}/note",
        f"/drives/{DRIVE}/find",
        f"/drives/{DRIVE}/size",
        f"/drives/{DRIVE}/rename",
        BIN,
    ),
    *(
        "/bring-in",
        "/bring-in/again",
        "/cars",
        "/cars/blank",
        "/prove",
        "/prove/gas",
        "/record",
        "/record/check",
    ),
    *("/record/mark", "/record/stop", "/errands/0/stop"),
)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Opened]:
    shutil.copytree(SESSIONS / "old_levels", tmp_path / DRIVE)
    with opened(tmp_path) as desk:
        yield desk


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8000", "127.0.0.1", "127.0.0.1:80", f"{HOST}.evil.example", ""],
)
def test_another_host_is_refused(desk: Opened, host: str) -> None:
    """A name pointed at 127.0.0.1 reaches the port, but never a page."""
    answer = desk.get("/", headers={"host": host})
    assert answer.status_code == 403
    assert DRIVE not in answer.text


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", "https://127.0.0.1:8000", "http://127.0.0.1:8001", HOST],
)
def test_another_origin_changes_nothing(desk: Opened, origin: str | None) -> None:
    headers = {} if origin is None else {"origin": origin}
    assert desk.post(BIN, headers=headers).status_code == 403
    assert (desk.folder / DRIVE).is_dir()


@pytest.mark.parametrize("path", EVERY_POST)
@pytest.mark.parametrize("secret", [None, "", "guessed", SECRET[:-1]])
def test_a_forged_form_changes_nothing(desk: Opened, path: str, secret: str | None) -> None:
    before = sorted(desk.folder.rglob("*"))
    answer = desk.post(path, params={} if secret is None else {"secret": secret})
    assert answer.status_code == 403
    assert sorted(desk.folder.rglob("*")) == before


@pytest.mark.parametrize("path", EVERY_POST)
def test_getting_changes_nothing(desk: Opened, path: str) -> None:
    before = sorted(desk.folder.rglob("*"))
    desk.get(path, params={"secret": SECRET})
    assert sorted(desk.folder.rglob("*")) == before


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(desk: Opened, method: str) -> None:
    answer = desk.client.request(method, BIN, headers={"origin": HOME}, params={"secret": SECRET})
    assert answer.status_code == 405
    assert (desk.folder / DRIVE).is_dir()


@pytest.mark.parametrize(
    "path",
    [
        "/drives/..%2f..%2fetc",
        "/drives/%2e%2e",
        "/drives/.desk",
        "/reports/..%2f" + DRIVE + "%2fsession.json",
        "/reports/%2fetc%2fpasswd",
        "/cars/..%2fcar.toml",
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/bring-in?again=../../etc",
        "/bring-in?again=" + "0" * 16,
        "/drives/" + "a" * 5000,
        "/drives/%00",
    ],
)
def test_no_path_leads_out(desk: Opened, path: str) -> None:
    answer = desk.get(path)
    assert answer.status_code in (400, 404), answer.text
    assert "root:" not in answer.text
    assert "import " not in answer.text


@pytest.mark.parametrize("path", ["/cars", "/prove", "/record"])
def test_a_huge_form_is_refused(desk: Opened, path: str) -> None:
    answer = desk.post(path, content=b"name=" + b"x" * 300_000, headers=_form())
    assert answer.status_code == 413


def test_an_endless_form_is_refused() -> None:
    """Asked below the test client, which would read all of it first."""
    read = 0

    async def reads_all(scope: Scope, receive: Receive, send: Send) -> None:
        nonlocal read
        while True:
            read += len((await receive())["body"])

    async def endless() -> Message:
        return {"type": "http.request", "body": b"x" * 65_536, "more_body": True}

    async def not_asked(message: Message) -> None:
        raise AssertionError(message)

    scope = {
        "type": "http",
        "method": "POST",
        "path": "/cars",
        "query_string": b"secret=s",
        "headers": [(b"host", HOST.encode()), (b"origin", HOME.encode())],
    }
    rules = Rules(hosts=frozenset({HOST}), secret="s")
    with pytest.raises(HTTPException) as refused:
        asyncio.run(Gate(reads_all, rules)(scope, endless, not_asked))
    assert refused.value.status_code == 413
    assert read < 300_000


def test_an_upload_has_a_limit(desk: Opened, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gate, "_MOST_UPLOAD_BYTES", 100_000)
    files = {"audio": ("a.wav", b"x" * 200_000)}
    answer = desk.post("/bring-in", data={"name": "new"}, files=files)
    assert answer.status_code == 413
    assert not (desk.folder / "new").exists()


SCRIPT = "<script>alert(1)</script>"


@pytest.mark.parametrize(
    "name", [SCRIPT, "a\nb", "-rf", "../up", "a/b", "a\\b", "con", "", "." * 3]
)
def test_names_that_are_none_are_refused(desk: Opened, name: str) -> None:
    answer = desk.post(f"/drives/{DRIVE}/rename", data={"name": name})
    assert answer.status_code == 400
    assert SCRIPT not in answer.text
    assert (desk.folder / DRIVE).is_dir()


def test_a_script_in_a_name_is_shown_as_text(desk: Opened) -> None:
    (desk.folder / f"{SCRIPT[:-9]}.toml").write_text(SCRIPT, encoding="utf-8")
    (desk.folder / DRIVE).rename(desk.folder / "<img src=x onerror=alert(1)>")
    for path in ("/", "/cars", "/prove", "/record", "/bring-in"):
        text = desk.get(path).text
        assert "<img" not in text
        assert "<script>alert" not in text


@pytest.mark.parametrize("option", ["--out=/tmp/elsewhere", "--overwrite", "-o"])
def test_what_is_typed_is_never_an_option(desk: Opened, option: str) -> None:
    """It stays the value of the option that it was typed for, so it is refused as one."""
    answer = desk.done(desk.post(f"/drives/{DRIVE}/find", data={"rpm_at": option}))
    assert "must be a time and an rpm" in answer.text


def test_every_answer_says_what_a_page_may_do(desk: Opened) -> None:
    for path in ("/", "/nowhere", "/static/desk.css"):
        headers = desk.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_a_report_is_shut_in(desk: Opened) -> None:
    (desk.folder / "reports").mkdir()
    (desk.folder / "reports" / "a.html").write_text(SCRIPT, encoding="utf-8")
    rules = desk.get("/reports/a.html").headers["content-security-policy"]
    assert rules.startswith("sandbox allow-scripts")
    assert "allow-same-origin" not in rules
    assert "connect-src" not in rules  # so default-src 'none' holds for it


def test_a_token_lets_one_browser_in(tmp_path: Path) -> None:
    with opened(tmp_path, token="shown") as desk:
        assert desk.get("/").status_code == 403
        assert desk.get("/", params={"token": "guessed"}).status_code == 403
        assert desk.get("/", params={"token": "shown"}).status_code == 200
        assert desk.get("/").status_code == 200  # by its cookie


def _form() -> dict[str, Any]:
    return {"origin": HOME, "content-type": "application/x-www-form-urlencoded"}
