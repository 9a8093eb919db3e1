"""What a page is told while it stands open: how things stand, each time that changes."""
# SPDX-License-Identifier: GPL-2.0-or-later

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Mapping

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

Look = Callable[[], tuple[Mapping[str, object], bool]]


def live(request: Request, look: Look, *, every_s: float) -> Response:
    """Tell what ``look`` gives, until it says that things do not go on, or the page is closed."""
    return StreamingResponse(_told(request, look, every_s), media_type="text/event-stream")


async def _told(request: Request, look: Look, every_s: float) -> AsyncIterator[str]:
    before = ""
    while not await request.is_disconnected():
        state, goes_on = look()
        text = json.dumps(state)
        if text != before:
            before = text
            yield f"data: {text}\n\n"
        if not goes_on:
            return
        await asyncio.sleep(every_s)
