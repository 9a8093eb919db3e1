"""The desk's addresses, each with the screen that answers."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from http import HTTPStatus
from importlib import resources
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from analysis.words.shown import Units, showing
from logger.desk.desk import Desk, make_templates
from logger.desk.errands import Errands
from logger.desk.folder import DeskFolder
from logger.desk.gate import UPLOAD_PATH, Gate, Rules
from logger.desk.recording import RecordingWatch
from logger.desk.screens import bring_in, cars, drives, errand, prove, record, reports, size
from logger.errors import LoggerError

Answer = Callable[[Request, Desk], Awaitable[Response]]

# a form posts to where its page is; every POST needs the secret, which the gate asks for
_GET: tuple[tuple[str, Answer], ...] = (
    ("/", drives.every_drive),
    ("/drives/{drive}", drives.one_drive),
    (UPLOAD_PATH, bring_in.form),
    ("/cars", cars.every_car),
    ("/cars/{car}", cars.one_car),
    ("/prove", prove.form),
    ("/record", record.screen),
    ("/record/events", record.events),
    ("/reports/{report}", reports.report),
    ("/errands/{number}", errand.watch),
    ("/errands/{number}/events", errand.events),
)
_POST: tuple[tuple[str, Answer], ...] = (
    ("/demo", drives.copy_demo),
    ("/units", drives.units),
    ("/drives/{drive}/find", drives.find),
    ("/drives/{drive}/size", size.size),
    ("/drives/{drive}/rename", drives.rename),
    ("/drives/{drive}/note", drives.note),
    ("/drives/{drive}/bin", drives.put_in_bin),
    (UPLOAD_PATH, bring_in.bring_in),
    ("/bring-in/again", bring_in.again),
    ("/cars", cars.asked),
    ("/cars/blank", cars.blank),
    ("/cars/{car}", cars.change),
    ("/prove", prove.prove),
    ("/prove/gas", prove.gas),
    ("/record", record.start),
    ("/record/check", record.check),
    ("/record/mark", record.mark),
    ("/record/stop", record.stop),
    ("/errands/{number}/stop", errand.stop),
)


def make_app(folder: Path, rules: Rules) -> ASGIApp:
    """Make the pages over one folder, behind their gate."""
    over = DeskFolder(folder)
    desk = Desk(
        folder=over,
        errands=Errands(),
        recording=RecordingWatch(over.hidden("recording")),
        secret=rules.secret,
        templates=make_templates(),
    )

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        del app
        yield
        await desk.errands.stop_all()

    async def refused(request: Request, error: Exception) -> Response:
        del request
        return desk.trouble(desk.in_desk_words(str(error)))

    async def cannot(request: Request, error: Exception) -> Response:
        del request
        assert isinstance(error, HTTPException)
        what = "There is no such page, or what it showed is gone."
        if error.status_code != HTTPStatus.NOT_FOUND:
            what = error.detail
        return desk.trouble(what, status=error.status_code)

    async def disk_refused(request: Request, error: Exception) -> Response:
        del request
        assert isinstance(error, OSError)
        where = Path(error.filename).name if isinstance(error.filename, str) else "the folder"
        return desk.trouble(f"{where}: {error.strerror or error}.", status=500)

    static = resources.files("logger.desk").joinpath("static")
    app = Starlette(
        routes=[
            *(Route(path, _with(desk, answer), methods=["GET"]) for path, answer in _GET),
            *(Route(path, _with(desk, answer), methods=["POST"]) for path, answer in _POST),
            Mount("/static", StaticFiles(directory=str(static))),
        ],
        exception_handlers={
            LoggerError: refused,
            OSError: disk_refused,
            HTTPException: cannot,
        },
        lifespan=life,
    )
    return Gate(app, rules)


def _with(desk: Desk, answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    async def answered(request: Request) -> Response:
        with showing(Units(desk.folder.units())):
            return await answer(request, desk)

    return answered
