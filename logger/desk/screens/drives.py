"""Every drive of the folder, and one of them: find its drone, size its branch, keep it in order."""
# SPDX-License-Identifier: GPL-2.0-or-later

import shutil
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from logger.desk.desk import Desk, address, see, small_form, text_of
from logger.desk.errands import Errand
from logger.desk.folder import DriveOnDesk, Shelves, read_document
from logger.desk.words import option
from logger.errors import SessionError
from logger.session.kept_sizing import KeptPlan, kept_plans

_DEMO = Path(__file__).resolve().parents[3] / "recorded_sessions"
# (field of the form, option of the command)
_SIZE_OPTIONS = (
    ("band", "--band"),
    ("branches", "--branches"),
    ("tube", "--tube"),
    ("longest", "--longest-branch"),
    ("pipe", "--pipe-diameter"),
    ("gas", "--gas-temperature"),
    ("paper", "--paper"),
    ("angle", "--angle"),
    ("wall", "--wall"),
    ("radius", "--bend-radius"),
)
# options without a value: the field has the option's name
_SIZE_FLAGS = ("--keep", "--no-can")


async def every_drive(request: Request, desk: Desk) -> Response:
    """List the drives, newest first, with what was found in each."""
    del request
    return desk.page("drives", title="Drives", shelves=desk.folder.look())


async def one_drive(request: Request, desk: Desk) -> Response:
    """Show what was found in one drive, its report, and what can be done with it."""
    drive, shelves = _wanted(request, desk)
    return desk.page(
        "drive",
        title=drive.name,
        drive=drive,
        shelves=shelves,
        report=_if_there(shelves, f"{drive.name}.html"),
        sheets=_if_there(shelves, f"{drive.name}.pdf"),
        token=desk.folder.inbox_of(drive.name),
        complaint=desk.complaint(request),
        plans=_plans(drive),
        imported=read_document(desk.folder.imported_file(drive.name)),
    )


async def copy_demo(request: Request, desk: Desk) -> Response:
    """Put the demo's drives and car into the folder, to try the desk on."""
    del request
    for source in sorted(_DEMO.iterdir()):
        target = desk.folder.path / source.name
        if target.exists() or source.name.endswith(".md"):
            continue
        if source.is_dir():
            shutil.copytree(source, target)
        else:
            shutil.copy(source, target)
    return see("/")


async def find(request: Request, desk: Desk) -> Response:
    """Listen to a drive."""
    drive, _ = _wanted(request, desk)
    form = await small_form(request)
    page = address("drives", drive.name)
    words = ["find", str(drive.path), "--json"]
    words += option("--cylinders", text_of(form, "cylinders"))
    words += option("--idle-rpm", text_of(form, "idle"))
    words += option("--rpm-at", text_of(form, "rpm_at"))
    return desk.run(
        Errand(
            title=f"Listening to {drive.name}",
            words=tuple(words),
            done_at=page,
            failed_at=page,
            answer=desk.folder.found_file(drive.name),
        )
    )


async def size(request: Request, desk: Desk) -> Response:
    """Size the branch, and write the report and the sheets."""
    drive, _ = _wanted(request, desk)
    form = await small_form(request)
    page = address("drives", drive.name)
    out = desk.folder.report_file(f"{drive.name}.html")
    words = ["report", str(drive.path), "--out", str(out), "--overwrite"]
    words += ["--sheets", str(out.with_suffix(".pdf"))]
    car = text_of(form, "car")
    if car:
        car_file = desk.folder.car(car)
        if car_file is None:
            return desk.trouble(f"There is no car file {car} any more.", back=page)
        words += ["--car", str(car_file)]
    plan = text_of(form, "plan")  # the button of one plan counts before the choice above it
    for field, name in _SIZE_OPTIONS:
        told = plan if plan and field == "branches" else text_of(form, field)
        words += option(name, told)
    words += [flag for flag in _SIZE_FLAGS if text_of(form, flag[2:].replace("-", "_"))]
    reach, run = text_of(form, "room_out"), text_of(form, "room_along")
    if reach and run:
        words += ["--room", reach, run]
    return desk.run(
        Errand(
            title=f"Sizing the branch for {drive.name}",
            words=tuple(words),
            done_at=page,
            failed_at=page,
        )
    )


async def rename(request: Request, desk: Desk) -> Response:
    """Give a drive another name."""
    drive, _ = _wanted(request, desk)
    name = text_of(await small_form(request), "name")
    desk.folder.rename(drive, name)
    return see(address("drives", name))


async def note(request: Request, desk: Desk) -> Response:
    """Set what its owner calls a drive."""
    drive, _ = _wanted(request, desk)
    desk.folder.note(drive, text_of(await small_form(request), "note"))
    return see(address("drives", drive.name))


async def put_in_bin(request: Request, desk: Desk) -> Response:
    """Move a drive to the bin."""
    drive, _ = _wanted(request, desk)
    where = desk.folder.bin(drive)
    return desk.page("binned", title="In the bin", drive=drive, where=where)


def _wanted(request: Request, desk: Desk) -> tuple[DriveOnDesk, Shelves]:
    shelves = desk.folder.look()
    drive = shelves.drive(request.path_params["drive"])
    if drive is None:
        raise HTTPException(404)
    return drive, shelves


def _plans(drive: DriveOnDesk) -> tuple[KeptPlan, ...]:
    """Plans of the sizing that was kept; none of one that is damaged, which its command tells."""
    try:
        return kept_plans(drive.path)
    except SessionError:
        return ()


def _if_there(shelves: Shelves, name: str) -> str | None:
    return name if name in shelves.reports else None
