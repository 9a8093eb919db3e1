"""A desk over a folder, asked without a network."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from httpx2 import Response
from starlette.testclient import TestClient

from logger.desk.app import make_app
from logger.desk.gate import Rules

HOST = "127.0.0.1:8000"
HOME = f"http://{HOST}"
SECRET = "only of this start"
_LONG_S = 120.0


@dataclass
class Opened:
    """Asks as a browser that shows the desk's own pages."""

    client: TestClient
    folder: Path

    def get(self, path: str, **more: Any) -> Response:
        return self.client.get(path, **more)

    def post(self, path: str, **more: Any) -> Response:
        more.setdefault("headers", {"origin": HOME})
        more.setdefault("params", {"secret": SECRET})
        return self.client.post(path, **more)

    def stop(self, answer: Response) -> Response:
        """End the errand that a form started; gives the page that says so."""
        return self.post(f"{answer.url.path}/stop")

    def done(self, answer: Response) -> Response:
        """Wait until the errand that a form started has ended; gives the page it leads to."""
        until_s = time.monotonic() + _LONG_S
        while time.monotonic() < until_s:
            if not re.search(r'id="errand"', answer.text):
                return answer
            with self.client.stream("GET", f"{answer.url.path}/events") as events:
                for _ in events.iter_lines():  # ends as the errand does
                    pass
            answer = self.get(answer.url.path)
        raise AssertionError(answer.text)


@contextmanager
def opened(folder: Path, *, token: str | None = None) -> Iterator[Opened]:
    rules = Rules(hosts=frozenset({HOST}), token=token, secret=SECRET)
    with TestClient(make_app(folder, rules), base_url=HOME) as client:
        yield Opened(client=client, folder=folder)
