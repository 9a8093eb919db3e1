"""Size the branch of a drive: what is to be built, or a plan that is only tried."""
# SPDX-License-Identifier: GPL-2.0-or-later

from starlette.requests import Request
from starlette.responses import Response

from logger.desk.desk import Desk, address, told_in
from logger.desk.errands import Errand
from logger.desk.report_shelf import report_name
from logger.desk.screens.drives import has_kept_report, wanted_drive
from logger.desk.words import option, options

# (field of the form, option of the command)
_OPTIONS = (
    ("band", "--band"),
    ("branches", "--branches"),
    ("longest", "--longest-branch"),
    ("pipe", "--pipe-diameter"),
    ("gas", "--gas-temperature"),
    ("paper", "--paper"),
    ("angle", "--angle"),
    ("wall", "--wall"),
    ("radius", "--bend-radius"),
)
_LENGTHS = ("longest", "pipe", "wall", "radius", "room_out", "room_along")
_PLAN_BUTTONS = ("plan", "build")  # in a row of the table of plans: try it; build it


async def size(request: Request, desk: Desk) -> Response:
    """Size the branch, and write the report and the sheets.

    What is kept as to be built stays as it is, with its report, until another is kept in its place:
    the proof rests on it. A plan that is only tried has a report of its own.
    """
    drive, _ = wanted_drive(request, desk)
    page = address("drives", drive.name)
    told = desk.with_units(await told_in(request), _LENGTHS)
    keeps = bool(told.get("keep") or told.get("build"))
    for button in _PLAN_BUTTONS:  # it counts before the choice above the table
        told["branches"] = told.pop(button, "") or told.get("branches", "")
    is_tried = has_kept_report(desk, drive) and not keeps
    out = desk.folder.reports.file(report_name(drive.name, tried=is_tried))
    if has_kept_report(desk, drive) and not is_tried:
        desk.folder.reports.set_aside(out.name)
        desk.folder.reports.set_aside(out.with_suffix(".pdf").name)
    words = ["report", str(drive.path), "--out", str(out), "--overwrite"]
    words += desk.units_option()
    words += ["--sheets", str(out.with_suffix(".pdf"))]
    words += desk.car_option(told.get("car", ""))
    words += option("--tube", told.get("own_tube") or told.get("tube", ""))
    words += options(told, _OPTIONS)
    words += ["--keep"] if keeps else []
    words += ["--no-can"] if told.get("no_can") else []
    reach, run = told.get("room_out", ""), told.get("room_along", "")
    if reach or run:  # half a box is asked about, and not ignored
        words += ["--room", reach, run]
    return desk.run(
        Errand(
            title=f"Sizing the branch for {drive.name}",
            words=tuple(words),
            done_at=f"{page}#size",
            failed_at=page,
            told=told,
            told_at=desk.folder.reports.told_file(out.name),
        )
    )
