"""Bring in what a phone and a log app made: upload, import, and try again with what it asks for."""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from logger.desk.car_says import car_says
from logger.desk.desk import Desk, address, texts_of, told_in, with_car_of
from logger.desk.errands import Errand
from logger.desk.folder import NameRefusedError, safe_file_name
from logger.desk.inbox import Brought
from logger.desk.kept_files import read_document
from logger.desk.words import options
from logger.importing.file_kinds import LOG_ENDINGS, SOUND_ENDINGS, ending
from logger.importing.tables.column_names import HINTS, KINDS

_MOST_FILES, _MOST_FIELDS = 24, 60  # judgement: a phone that cuts each minute; fields of the form
_COPY_BYTES = 1 << 20
# by field of the form and option of the command
_ENDINGS = {
    "audio": SOUND_ENDINGS,
    "second-audio": SOUND_ENDINGS,
    "telemetry": LOG_ENDINGS,
}
# (field and option, what it is); the columns follow from what an import knows
FIRSTS = (
    ("channel", "channel of the sound, counted from 1"),
    ("tail-channel", "channel of a microphone near the tailpipe; a second recorder counts on"),
    ("started", "when the drive began, as 2024-06-08 10:05"),
)
UNITS = tuple((option, what.replace("'", "")) for option, _, what in HINTS)  # no shell
COLUMNS = tuple((f"{kind.option}-column", f"column of {kind.what}") for kind in KINDS.values())
_OPTIONS = ("cylinders", *(name for name, _ in (*FIRSTS, *UNITS, *COLUMNS)))


async def form(request: Request, desk: Desk) -> Response:
    """Ask for the files; or, for files that are here already, for what is still not known."""
    token = request.query_params.get("again", "")
    told = with_car_of(request, _brought(desk, token).told() if token else {})
    return _form_page(desk, told, token=token, complaint=desk.complaint(request))


def _form_page(
    desk: Desk, told: Mapping[str, Any], *, token: str, complaint: str, status: int = 200
) -> Response:
    return desk.page(
        "bring_in",
        title="Bring in a drive",
        status=status,
        shelves=desk.folder.look(),
        token=token,
        told=told,
        says=car_says(desk.folder, told.get("car")),
        brought=[_as_brought(each) for names in told.get("files", {}).values() for each in names],
        complaint=complaint,
        firsts=FIRSTS,
        unit_fields=UNITS,
        columns=COLUMNS,
        imported=read_document(desk.folder.imported_file(told.get("name", ""))) or {},
        endings={what: ",".join(f".{each}" for each in _ENDINGS[what]) for what in _ENDINGS},
    )


async def bring_in(request: Request, desk: Desk) -> Response:
    """Take the files into the inbox, and import them."""
    async with request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS) as form:
        chosen = [
            (what, each)
            for what in _ENDINGS
            for each in form.getlist(what)
            if isinstance(each, UploadFile) and each.filename
        ]
        told = texts_of(form)
        if complaint := _refused(chosen):  # nothing of it is kept: a page cannot hold files
            return _form_page(desk, told, token="", complaint=complaint, status=400)
        brought = desk.folder.inbox.new()
        files: dict[str, list[str]] = {what: [] for what, _ in chosen}
        written_s = _written_s(told.get("written", ""))
        for number, (what, each) in enumerate(chosen, start=1):
            files[what].append(await _kept_in(brought.folder, f"{what} {number}", each))
            if (at_s := written_s.get(each.filename)) is not None:
                os.utime(brought.folder / files[what][-1], (at_s, at_s))
        return _import(desk, brought, files, told)


def _refused(chosen: Sequence[tuple[str, UploadFile]]) -> str:
    """Say what is wrong with the files; "" where nothing is."""
    if not chosen:
        return "Choose a sound file, a log, or both."
    for what, each in chosen:
        if ending(safe_file_name(each.filename or "")) not in _ENDINGS[what]:
            kind = "log" if what == "telemetry" else "sound or video"
            return f"{each.filename} does not look like a {kind} file. Choose the files once more."
    return ""


def _written_s(told: str) -> dict[str | None, float]:
    """When each file was last written, as the browser says: an upload is of now.

    ``told`` is a JSON object of names and milliseconds since 1970; what is none is left out.
    """
    try:
        times = json.loads(told)
        return {str(name): float(at_ms) / 1e3 for name, at_ms in times.items() if at_ms > 0.0}
    except (ValueError, TypeError, AttributeError):
        return {}


async def _kept_in(folder: Path, before: str, upload: UploadFile) -> str:
    """Write an upload into a folder of its own; gives the name it has there."""
    name = f"{before} {safe_file_name(upload.filename or '')}"
    with (folder / name).open("xb") as out:
        while block := await upload.read(_COPY_BYTES):
            out.write(block)
    return name


def _as_brought(kept: str) -> str:
    """Give the name that a file in the inbox came with; before it stand its kind and number."""
    return kept.split(" ", 2)[2]


async def again(request: Request, desk: Desk) -> Response:
    """Import files that are in the inbox, told more than before."""
    told = await told_in(request)
    brought = _brought(desk, told.get("token", ""))
    return _import(desk, brought, brought.told()["files"], told)


def _import(
    desk: Desk, brought: Brought, files: dict[str, list[str]], told: Mapping[str, str]
) -> Response:
    name, car = told.get("name", ""), told.get("car", "")
    given = {each: told.get(each, "") for each in _OPTIONS}
    kept = {"files": files, "name": name, "car": car, **given}
    token, is_again = brought.folder.name, brought.made(desk.folder.path / name)
    try:
        out = desk.folder.path / name if is_again else desk.folder.free_path(name)
    except NameRefusedError as error:
        # the files stay, for another name; without one, no drive is taken for made by them
        brought.keep(kept | {"name": ""})
        complaint = desk.in_desk_words(str(error))
        return _form_page(desk, kept, token=token, complaint=complaint, status=400)
    brought.keep(kept)
    words = ["import", "--json", f"--out={out}", *(["--overwrite"] if is_again else [])]
    for what, names in files.items():
        words += [f"--{what}={brought.folder / each}" for each in names]
    words += desk.car_option(car)
    words += options(given, ((each, f"--{each}") for each in given))
    return desk.run(
        Errand(
            title=f"Bringing in {name}",
            words=tuple(words),
            done_at=address("drives", name),
            failed_at=f"/bring-in?again={token}",
            answer=desk.folder.imported_file(name),
        )
    )


def _brought(desk: Desk, token: str) -> Brought:
    brought = desk.folder.inbox.get(token)
    if brought is None:
        raise HTTPException(404)
    return brought
