"""Who may come in: this machine's own browser, with the secret of this start in every form.

A page of somebody else's can make a browser ask anything of this machine. So the Host must be ours
(against names that are pointed at 127.0.0.1), what changes something must come from a page of ours
(Origin, and the secret), and no body may be larger or slower than what it is for.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import asyncio
import hmac
import secrets
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "desk-token"
UPLOAD_PATH = "/bring-in"
# judgement: forms are some hundred bytes; a video of two hours has up to some gigabytes
_MOST_FORM_BYTES = 200_000
_MOST_UPLOAD_BYTES = 6_000_000_000
_SLOWEST_S = 60.0  # judgement: a browser that sends nothing for so long has gone
_PAGE_RULES = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; frame-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Whom to let in.

    Attributes
    ----------
    hosts : frozenset of str
        Values of the Host header that are ours, port and all.
    token : str or None
        What a browser must have shown once; None where only this machine can reach us.
    secret : str
        Of this start; every form carries it.
    """

    hosts: frozenset[str]
    token: str | None = None
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(24))


class Gate:
    """Wraps the pages; what may not come in never reaches them."""

    def __init__(self, app: ASGIApp, rules: Rules) -> None:
        self._app = app
        self._rules = rules

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on with a bounded body, and say on every answer what a page may do."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        answer = self._refusal(scope)
        if answer is not None:
            await answer(scope, receive, _guarded(send))
            return
        await self._app(scope, _bounded(scope, receive), _guarded(send))

    def _refusal(self, scope: Scope) -> Response | None:
        headers, rules = Headers(scope=scope), self._rules
        query = parse_qs(scope["query_string"].decode("latin-1"))
        if headers.get("host", "") not in rules.hosts:
            return _no("this is not the address that the desk was started with")
        if rules.token is not None and not _same(_cookie(headers), rules.token):
            if not _same(query.get("token", [""])[0], rules.token):
                return _no("open the address with the token that the terminal shows")
            answer = RedirectResponse("/", status_code=303)
            answer.set_cookie(COOKIE, rules.token, httponly=True, samesite="strict")
            return answer
        if scope["method"] in ("GET", "HEAD"):
            return None
        if scope["method"] != "POST":
            return _no("the desk knows no such request", 405)
        if headers.get("origin", "") not in {f"http://{host}" for host in rules.hosts}:
            return _no("this did not come from a page of the desk")
        if not _same(query.get("secret", [""])[0], rules.secret):
            return _no("the desk was started again since this page was made; go back and reload it")
        return None


def _bounded(scope: Scope, receive: Receive) -> Receive:
    most = _MOST_UPLOAD_BYTES if scope["path"] == UPLOAD_PATH else _MOST_FORM_BYTES
    taken = 0

    async def receive_some() -> Message:
        nonlocal taken
        if scope["method"] in ("GET", "HEAD"):
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), _SLOWEST_S)
        except TimeoutError as error:
            raise HTTPException(408, "The browser stopped sending; try again.") from error
        taken += len(message.get("body", b""))
        if taken > most:
            raise HTTPException(413, f"That is more than {most:,} bytes, which the desk refuses.")
        return message

    return receive_some


def _guarded(send: Send) -> Send:
    async def send_with_rules(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers.setdefault("content-security-policy", _PAGE_RULES)
            headers["x-content-type-options"] = "nosniff"
            headers["referrer-policy"] = "same-origin"
            headers["cross-origin-resource-policy"] = "same-origin"
            headers["cross-origin-opener-policy"] = "same-origin"
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return send_with_rules


def _cookie(headers: Headers) -> str:
    cookies = SimpleCookie()
    cookies.load(headers.get("cookie", "")[:4096])
    return cookies[COOKIE].value if COOKIE in cookies else ""


def _same(given: str, ours: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8"), ours.encode("utf-8"))


def _no(why: str, status: int = 403) -> Response:
    return PlainTextResponse(f"Not let in: {why}.\n", status_code=status)
