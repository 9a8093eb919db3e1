"""Car files: asked for as a form, drawn to scale, changed on the form again or as text."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping
from pathlib import Path

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from analysis.describe.car_text import car_text
from analysis.errors import CarError
from analysis.exhaust.car import read_car_text
from analysis.words.shown import Units
from logger.desk.car_answers import CarAnswers, state_of
from logger.desk.car_form import Shown, car_form, read_and_show
from logger.desk.desk import Desk, address, see, told_in
from logger.desk.errands import Errand
from logger.folder.output_file import write_whole

_WRITE, _ANEW = "write", "anew"
_BLANK = "blank, to fill in under the car.pdf"  # among the reports; no drive has a comma
# what a form says beside its answers: the car file that it changes, and the state it began from
_CHANGES, _BEGAN_FROM = "changes", "began_from"
_BESIDE = (_CHANGES, _BEGAN_FROM, "name")
_CHANGED_MEANWHILE = (
    "{} was changed meanwhile, in another tab or by another program. What you typed is below; "
    "open the car again to see what it is now."
)


async def every_car(request: Request, desk: Desk) -> Response:
    """List the car files, and ask for another; or go on with what was typed, or change one."""
    answers = CarAnswers(desk.folder)
    file = desk.folder.car(request.query_params.get("change", ""))
    if file is None:
        draft = answers.draft()
        return _form_page(desk, draft or _tape(desk), is_begun=bool(draft))
    began = {_CHANGES: file.name, _BEGAN_FROM: state_of(file), "name": file.name}
    return _form_page(desk, answers.of(file) | began)


async def asked(request: Request, desk: Desk) -> Response:
    """Take in answers: draw the car so far, and write its file when that is asked for."""
    typed = await told_in(request)
    answers = CarAnswers(desk.folder)
    if typed.get(_ANEW):
        answers.forget_draft()
        return see("/cars")
    form = car_form(typed)
    if not typed.get(_WRITE) or form.table is None:
        if not typed.get(_CHANGES):
            answers.keep_draft(typed)
        return _form_page(desk, typed)
    changed = desk.folder.car(typed.get(_CHANGES, ""))
    if changed is not None and state_of(changed) != typed.get(_BEGAN_FROM):
        return _form_page(desk, typed, complaint=_CHANGED_MEANWHILE.format(changed.name))
    name = typed.get("name", "")
    file = changed or desk.folder.free_path(name if name.endswith(".toml") else f"{name}.toml")
    text = car_text(form.table).encode("utf-8")
    write_whole(file, text, overwrite=changed is not None)
    answers.keep(file, {key: told for key, told in typed.items() if key != _WRITE})
    answers.forget_draft()
    return see(address("cars", file.name))


async def blank(request: Request, desk: Desk) -> Response:
    """Make sheets to fill in under the car, with the questions of the form."""
    del request
    out = desk.folder.reports.file(_BLANK)
    return desk.run(
        Errand(
            title="Making the sheets to fill in",
            words=("car", "--blank", str(out), "--overwrite", *desk.units_option()),
            done_at="/cars",
            failed_at="/cars",
        )
    )


async def one_car(request: Request, desk: Desk) -> Response:
    """Show one car file, drawn, with what is odd, and its text to change."""
    file = _wanted(request, desk)
    return _car_page(desk, file, file.read_text(encoding="utf-8", errors="replace"))


async def change(request: Request, desk: Desk) -> Response:
    """Write the text of a car file that is there, if it can be read as a car."""
    file, told = _wanted(request, desk), await told_in(request)
    text = f"{told.get('text', '')}\n".replace("\r\n", "\n")
    if told.get(_BEGAN_FROM) != state_of(file):
        return _car_page(desk, file, text, complaint=_CHANGED_MEANWHILE.format(file.name))
    try:
        read_car_text(text.encode("utf-8"))
    except CarError as error:
        return _car_page(desk, file, text, complaint=f"Not saved: {error}")
    write_whole(file, text.encode("utf-8"), overwrite=True)
    return see(address("cars", file.name))


def _wanted(request: Request, desk: Desk) -> Path:
    file = desk.folder.car(request.path_params["car"])
    if file is None:
        raise HTTPException(404)
    return file


def _car_page(desk: Desk, file: Path, text: str, *, complaint: str = "") -> Response:
    shown = read_and_show(file)
    why_not = "" if isinstance(shown, Shown) else desk.in_desk_words(shown)
    return desk.page(
        "car",
        title=file.name,
        file=file.name,
        complaint=complaint or why_not,
        facts=shown.facts if isinstance(shown, Shown) else (),
        odd=shown.odd if isinstance(shown, Shown) else (),
        drawing=_as_markup(shown if isinstance(shown, Shown) else None),
        text=text,
        began_from=state_of(file),
        has_form=bool(CarAnswers(desk.folder).of(file)),
    )


def _tape(desk: Desk) -> dict[str, str]:
    """Answer what the tape shows, as far as the desk's choice of units tells."""
    named = {Units.METRIC: "millimetres", Units.INCH: "inches"}.get(Units(desk.folder.units()))
    return {} if named is None else {"units": named}


def _form_page(
    desk: Desk, typed: Mapping[str, str], *, complaint: str = "", is_begun: bool = True
) -> Response:
    """Show the form, folded away where a car is described and no other is begun."""
    form = car_form({key: told for key, told in typed.items() if key not in _BESIDE})
    shelves = desk.folder.look()
    return desk.page(
        "cars",
        title="Your car",
        shelves=shelves,
        is_folded=bool(shelves.cars) and not is_begun,
        blank=_BLANK if _BLANK in shelves.reports else "",
        rows=form.rows,
        is_whole=form.table is not None,
        odd=form.shown.odd,
        drawing=_as_markup(form.shown),
        name=typed.get("name", ""),
        changes=typed.get(_CHANGES, ""),
        began_from=typed.get(_BEGAN_FROM, ""),
        complaint=complaint,
    )


def _as_markup(shown: Shown | None) -> Markup:
    """Take a drawing as it is: every word in it is escaped where it is drawn."""
    return Markup("" if shown is None else shown.drawing)
