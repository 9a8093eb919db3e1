"""Car files: asked for as a form, drawn to scale, changed as text."""
# SPDX-License-Identifier: GPL-2.0-or-later

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from analysis.describe.car_text import car_text
from logger.desk.car_form import Shown, car_form, read_and_show
from logger.desk.desk import Desk, address, see, small_form, text_of, texts_of
from logger.folder.output_file import write_whole

_WRITE = "write"


async def every_car(request: Request, desk: Desk) -> Response:
    """List the car files, and ask for another."""
    del request
    return _form_page(desk, {})


async def asked(request: Request, desk: Desk) -> Response:
    """Take in answers: draw the car so far, and write its file when that is asked for."""
    told = await small_form(request)
    if not text_of(told, _WRITE):
        return _form_page(desk, texts_of(told))
    form = car_form(texts_of(told))
    if form.table is None:
        return _form_page(desk, texts_of(told))
    name = text_of(told, "name")
    file = desk.folder.free_path(name if name.endswith(".toml") else f"{name}.toml")
    write_whole(file, car_text(form.table).encode("utf-8"))
    return see(address("cars", file.name))


async def one_car(request: Request, desk: Desk) -> Response:
    """Show one car file, drawn, with what is odd, and its text to change."""
    name = request.path_params["car"]
    file = desk.folder.car(name)
    if file is None:
        raise HTTPException(404)
    shown = read_and_show(file)
    return desk.page(
        "car",
        title=name,
        file=name,
        complaint="" if isinstance(shown, Shown) else desk.without_paths(shown),
        odd=shown.odd if isinstance(shown, Shown) else (),
        drawing=_as_markup(shown if isinstance(shown, Shown) else None),
        text=file.read_text(encoding="utf-8", errors="replace"),
    )


async def change(request: Request, desk: Desk) -> Response:
    """Write the text of a car file that is there."""
    name = request.path_params["car"]
    file = desk.folder.car(name)
    if file is None:
        raise HTTPException(404)
    text = text_of(await small_form(request), "text")
    write_whole(file, f"{text}\n".replace("\r\n", "\n").encode("utf-8"), overwrite=True)
    return see(address("cars", name))


def _form_page(desk: Desk, typed: dict[str, str]) -> Response:
    form = car_form(typed)
    return desk.page(
        "cars",
        title="Your car",
        shelves=desk.folder.look(),
        rows=form.rows,
        is_whole=form.table is not None,
        odd=form.shown.odd,
        drawing=_as_markup(form.shown),
        name=typed.get("name", ""),
    )


def _as_markup(shown: Shown | None) -> Markup:
    """Take a drawing as it is: every word in it is escaped where it is drawn."""
    return Markup("" if shown is None else shown.drawing)
