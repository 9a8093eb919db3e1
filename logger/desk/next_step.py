"""What to do next, in one sentence, with the page to do it on."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from urllib.parse import quote

from analysis.words.sentences import sentence
from logger.desk.folder import DriveOnDesk, Shelves
from logger.desk.report_shelf import BETWEEN, report_name


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """A sentence, and the page and words of the link that follows it."""

    sentence: str
    link: str
    words: str


def next_step(shelves: Shelves, drive: DriveOnDesk | None = None) -> NextStep:
    """Say what to do next: with one drive, or with all that is in the folder."""
    if shelves.drives and (step := _prove(shelves, drive or shelves.drives[0])) is not None:
        return step
    if not shelves.drives:
        described = (
            f"Your car is described, in {shelves.cars[0]}."
            if shelves.cars
            else "You can describe your car first, or later."
        )
        return NextStep(
            sentence="There is no drive here yet. Record one, or bring in what your phone and your "
            f"log app made. {described}",
            link="/bring-in",
            words="Bring in a drive",
        )
    drive = drive or _in_hand(shelves)
    page = f"/drives/{quote(drive.name, safe='')}"
    if drive.found is None:
        return NextStep(
            sentence=f"Nobody has listened to “{drive.name}” yet.",
            link=page,
            words="Find its drone",
        )
    if drive.found.get("withheld"):
        return NextStep(
            sentence=f"“{drive.name}” gives no result. Its page says why, and how to drive again.",
            link=page,
            words="See why",
        )
    if not drive.found.get("drone_bands"):
        return NextStep(
            sentence=f"No drone was found in “{drive.name}”. If you do hear one, drive again "
            "through the speed where it is worst.",
            link="/record",
            words="Record another drive",
        )
    if not shelves.cars and not drive.has_car:
        return NextStep(
            sentence="A drone was found. To say where a branch must go, your exhaust has to be "
            "described: its pipes and mufflers, by tape measure.",
            link="/cars",
            words="Describe the exhaust",
        )
    if report_name(drive.name) not in shelves.reports:
        return NextStep(
            sentence=f"The drone of “{drive.name}” is known. Now size the branch for it.",
            link=f"{page}#size",
            words="Size the branch",
        )
    then = "print the sheets, build it, and drive again in the same way."
    check = shelves.in_short[report_name(drive.name)]
    return NextStep(
        sentence=f"The branch is sized, but {check}: the answer says how. Or, at that risk, {then}"
        if check
        else f"The branch is sized. {sentence(then)}",
        link=f"{page}#size",
        words="See the answer",
    )


def _in_hand(shelves: Shelves) -> DriveOnDesk:
    """Give the drive to go on with: the newest in which a drone was found, or that was listened to.

    Else it is what was driven first, with sound: the baseline, which a branch is sized for.
    """
    heard = [each for each in shelves.drives if each.found is not None]
    driven = [each for each in shelves.drives if each.start and each.duration_s is not None]
    drones = [each for each in heard if each.found and each.found.get("drone_bands")]
    return (*drones, *heard, *driven[-1:], *shelves.drives)[0]


def sized_before(shelves: Shelves, drive: DriveOnDesk) -> DriveOnDesk | None:
    """Give the baseline where this drive came after the work: the first that was sized before it.

    After the work there is nothing to size, but to compare. None where this is no such drive.
    """
    if drive.start is None:
        return None
    sized = [
        each
        for each in shelves.drives
        if each.start is not None
        and each.start < drive.start
        and report_name(each.name) in shelves.reports
    ]
    return sized[-1] if sized else None


def _prove(shelves: Shelves, drive: DriveOnDesk) -> NextStep | None:
    """Lead to the verdict, or to where it is asked for; None where neither is due."""
    verdict = shelves.verdict_of(drive.name)
    if verdict is not None:
        after, _, before = verdict.removesuffix(".html").partition(BETWEEN)
        said = shelves.in_short[verdict]
        return NextStep(
            sentence=f"“{after}” is compared with “{before}”, from before the work. "
            f"{sentence(said) if said else ''}".strip(),
            link=f"/prove?shown={quote(verdict, safe='')}",
            words="See the verdict",
        )
    baseline = sized_before(shelves, drive)
    if baseline is None or report_name(drive.name) in shelves.reports:
        return None
    return NextStep(
        sentence=f"A branch was sized for “{baseline.name}”, and “{drive.name}” was driven after "
        "it. If the branch is built by then, see whether it worked.",
        link="/prove",
        words="Compare the two drives",
    )
