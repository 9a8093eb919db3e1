"""An errand on its way: how far it is, and a way to stop it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from logger.desk.desk import Desk, see
from logger.desk.errands import Running
from logger.desk.live import live

_LOOK_EVERY_S = 0.25  # judgement: as often as a moving bar needs; nothing else hangs on it


async def watch(request: Request, desk: Desk) -> Response:
    """Show progress; go on by itself once it is done, and show the complaint if it was refused."""
    running = _wanted(request, desk)
    if running.is_answered:
        return see(desk.after(running))
    return desk.page("errand", title=running.errand.title, running=running)


async def events(request: Request, desk: Desk) -> Response:
    """Tell the page how far it is, as it goes on."""
    running = _wanted(request, desk)

    def look() -> tuple[Mapping[str, object], bool]:
        is_over = running.status is not None
        percent = round(100.0 * running.part)
        return {"percent": percent, "doing": running.doing, "ended": is_over}, not is_over

    return live(request, look, every_s=_LOOK_EVERY_S)


async def stop(request: Request, desk: Desk) -> Response:
    """Stop it."""
    running = _wanted(request, desk)
    await desk.errands.stop(running)
    return see(f"/errands/{running.number}")


def _wanted(request: Request, desk: Desk) -> Running:
    running = desk.errands.get(request.path_params["number"])
    if running is None:
        raise HTTPException(404)
    return running
