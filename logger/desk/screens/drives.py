"""Every drive of the folder, and one of them: find its drone, keep it in order."""
# SPDX-License-Identifier: GPL-2.0-or-later

import shutil
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from logger.desk.car_says import car_says
from logger.desk.desk import Desk, address, see, told_in, with_car_of
from logger.desk.errands import Errand
from logger.desk.folder import DriveOnDesk, Shelves
from logger.desk.kept_files import read_document
from logger.desk.report_shelf import report_name
from logger.desk.words import options
from logger.errors import SessionError
from logger.session.kept_sizing import KeptPlan, is_kept, kept_plans

# (field of the form, option of the command)
_OPTIONS = (("cylinders", "--cylinders"), ("idle", "--idle-rpm"), ("rpm_at", "--rpm-at"))
_DEMO = Path(__file__).resolve().parents[3] / "recorded_sessions"


async def every_drive(request: Request, desk: Desk) -> Response:
    """List the drives, newest first, with what was found in each."""
    del request
    return desk.page("drives", title="Drives", shelves=desk.folder.look())


async def one_drive(request: Request, desk: Desk) -> Response:
    """Show what was found in one drive, its report, and what can be done with it."""
    drive, shelves = wanted_drive(request, desk)
    kept, tried = report_name(drive.name), report_name(drive.name, tried=True)
    refused, plans = desk.told_before(request), _plans(drive)
    told = with_car_of(request, refused or desk.folder.reports.told_of(kept))
    return desk.page(
        "drive",
        title=drive.name,
        drive=drive,
        shelves=shelves,
        report=kept if kept in shelves.reports else None,
        sheets=desk.folder.reports.sheets_of(kept),
        tried=_since(shelves, kept, tried),
        tried_sheets=desk.folder.reports.sheets_of(tried),
        told_of_tried=desk.folder.reports.told_of(tried),
        is_kept=has_kept_report(desk, drive),
        token=desk.folder.inbox.of(drive.name),
        complaint=desk.complaint(request),
        told=told,
        says=car_says(desk.folder, told.get("car"), drive.path),
        is_refused=bool(refused),
        plans=plans,
        offered=_offered(plans),
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


async def units(request: Request, desk: Desk) -> Response:
    """Choose what lengths are shown in, on all that is written from now on."""
    desk.folder.set_units((await told_in(request)).get("units", ""))
    return see("/")


async def find(request: Request, desk: Desk) -> Response:
    """Listen to a drive."""
    drive, _ = wanted_drive(request, desk)
    told = await told_in(request)
    page = address("drives", drive.name)
    words = ["find", str(drive.path), "--json", *desk.units_option()]
    words += options(told, _OPTIONS)
    return desk.run(
        Errand(
            title=f"Listening to {drive.name}",
            words=tuple(words),
            done_at=page,
            failed_at=page,
            told=told,
            answer=desk.folder.found_file(drive.name),
        )
    )


async def rename(request: Request, desk: Desk) -> Response:
    """Give a drive another name."""
    drive, _ = wanted_drive(request, desk)
    name = (await told_in(request)).get("name", "")
    desk.folder.rename(drive, name)
    return see(address("drives", name))


async def note(request: Request, desk: Desk) -> Response:
    """Set what its owner calls a drive."""
    drive, _ = wanted_drive(request, desk)
    desk.folder.note(drive, (await told_in(request)).get("note", ""))
    return see(address("drives", drive.name))


async def put_in_bin(request: Request, desk: Desk) -> Response:
    """Move a drive to the bin."""
    drive, _ = wanted_drive(request, desk)
    where = desk.folder.bin(drive)
    return desk.page("binned", title="In the bin", drive=drive, where=where)


def wanted_drive(request: Request, desk: Desk) -> tuple[DriveOnDesk, Shelves]:
    """Give the drive of this page, and all that lies beside it."""
    shelves = desk.folder.look()
    drive = shelves.drive(request.path_params["drive"])
    if drive is None:
        raise HTTPException(404)
    return drive, shelves


def has_kept_report(desk: Desk, drive: DriveOnDesk) -> bool:
    """Whether something is to be built already, and its report lies on the desk."""
    return is_kept(drive.path) and desk.folder.reports.get(report_name(drive.name)) is not None


def _plans(drive: DriveOnDesk) -> tuple[KeptPlan, ...]:
    """Plans of the sizing that was kept; none of one that is damaged, which its command tells."""
    try:
        return kept_plans(drive.path)
    except SessionError:
        return ()


def _offered(plans: tuple[KeptPlan, ...]) -> tuple[KeptPlan, ...]:
    """Give the plans to choose: of as many places only one can be asked for, the last.

    It is the one that keeps a place beside the same branches.
    """
    kept = {each.places for each in plans if each.is_chosen}
    last = {each.places: each for each in plans}
    return tuple(each for each in last.values() if each.places not in kept)


def _since(shelves: Shelves, kept: str, tried: str) -> str | None:
    """Give the report of what was tried; None where another was kept since then."""
    newest = next((each for each in shelves.reports if each in (kept, tried)), None)
    return tried if newest == tried else None
