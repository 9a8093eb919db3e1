"""Did it work? Two drives against each other, and the history of all; the gas that they found."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import Response

from logger.desk.desk import Desk, address, told_in
from logger.desk.errands import Errand
from logger.desk.folder import DriveOnDesk, NameRefusedError, Shelves
from logger.desk.report_shelf import BETWEEN
from logger.desk.words import option

_HISTORY = "history.html"
_BUILT = ("built_1", "built_2")


async def form(request: Request, desk: Desk) -> Response:
    """Ask which two drives, and what was built between them; show the last answer asked for."""
    return _page(
        desk,
        request.query_params.get("shown", ""),
        told=desk.told_before(request),
        complaint=desk.complaint(request),
    )


def _page(
    desk: Desk, shown: str, *, told: Mapping[str, str], complaint: str, status: int = 200
) -> Response:
    shelves = desk.folder.look()
    compared = [name for name in shelves.reports if name.endswith(".html")]
    compared = [name for name in compared if BETWEEN in name or name == _HISTORY]
    car = desk.folder.reports.told_of(shown).get("car") or next(iter(shelves.cars), "")
    return desk.page(
        "prove",
        title="Prove the cure",
        status=status,
        shelves=shelves,
        compared=compared,
        shown=shown if shown in compared else None,
        complaint=complaint,
        told={"baseline": _likely_baseline(shelves), **told},
        gas_car=car if BETWEEN in shown else "",
        cars=[(each, each) for each in shelves.cars],
        with_gas=told.get("with_gas", ""),
    )


def _likely_baseline(shelves: Shelves) -> str:
    """Give the drive that a branch was sized for, or else the oldest."""
    sized = [each.name for each in shelves.drives if f"{each.name}.html" in shelves.reports]
    return (sized or [each.name for each in shelves.drives] or [""])[-1]


async def prove(request: Request, desk: Desk) -> Response:
    """Compare two drives, or all of them."""
    shelves, told = desk.folder.look(), desk.with_units(await told_in(request), _BUILT)
    if told.get("all"):
        out = desk.folder.reports.file(_HISTORY)
        words = ["history", str(desk.folder.path)]
        words += option("--baseline", told.get("against", ""))
        title = "Comparing every drive"
    else:
        before, after = (
            shelves.drive(told.get("baseline", "")),
            shelves.drive(told.get("postfix", "")),
        )
        if before is None or after is None:
            return desk.trouble("Choose two drives that are there.", back="/prove")
        if before.name == after.name:
            return desk.trouble(
                "Choose two different drives: the one before the work, and the one after it.",
                back="/prove",
            )
        out = desk.folder.reports.file(f"{after.name}{BETWEEN}{before.name}.html")
        words = ["report", str(before.path), str(after.path), *_as_built(told)]
        title = f"Comparing {before.name} and {after.name}"
    words += ["--out", str(out), "--overwrite", *desk.units_option()]
    words += desk.car_option(told.get("car", ""))
    return desk.run(
        Errand(
            title=title,
            words=tuple(words),
            done_at=_address(out.name),
            failed_at="/prove",
            told=told,
            told_at=desk.folder.reports.told_file(out.name),
        )
    )


async def gas(request: Request, desk: Desk) -> Response:
    """Write a car file again, with the gas temperature that a comparison found in the branch."""
    shelves, told = desk.folder.look(), await told_in(request)
    shown = told.get("shown", "")
    before, after = _compared(shelves, shown)
    if before is None or after is None:
        return desk.trouble("The two drives are not there any more.", back="/prove")
    try:
        out = desk.folder.free_path(f"{told.get('with_gas', '').removesuffix('.toml')}.toml")
    except NameRefusedError as error:
        complaint = desk.in_desk_words(str(error))
        return _page(desk, shown, told=told, complaint=complaint, status=400)
    words = [
        "compare",
        str(before.path),
        str(after.path),
        *_as_built(desk.folder.reports.told_of(shown)),
    ]
    words += [*desk.car_option(told.get("gas_car", "")), "--write-car", str(out)]
    words += desk.units_option()
    return desk.run(
        Errand(
            title=f"Reading the gas in the branch for {out.name}",
            words=tuple(words),
            done_at=_address(shown),
            failed_at=_address(shown),
            told={"with_gas": out.name},
            is_on_its_form=True,
        )
    )


def _compared(shelves: Shelves, report: str) -> tuple[DriveOnDesk | None, DriveOnDesk | None]:
    """Give the drives that a page of ours compares: the one before the work, and the one after."""
    after, _, before = report.removesuffix(".html").partition(BETWEEN)
    return shelves.drive(before), shelves.drive(after)


def _as_built(told: Mapping[str, str]) -> list[str]:
    """Give the options for what was built, with what was measured of it."""
    measured = "sleeve " if told.get("measured") == "sleeve" else ""
    lengths = [told.get(name, "") for name in _BUILT]
    return [word for each in lengths if each for word in option("--built", f"{measured}{each}")]


def _address(report: str) -> str:
    return f"/prove?shown={address(report)[1:]}"
