"""Record a drive: devices tried, then a large level and rpm, and what to drive next."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from logger.desk.car_says import car_says
from logger.desk.desk import Desk, see, told_in, with_car_of
from logger.desk.errands import Errand
from logger.desk.folder import NameRefusedError
from logger.desk.kept_files import read_document
from logger.desk.live import live
from logger.desk.recording import Seen
from logger.desk.words import options

CHECKED = "check.json"  # what the devices said when they were last tried
_LOOK_EVERY_S = 0.5  # a recording tells how it stands as often
# (field of the form, option of the command)
_OPTIONS = (("microphone", "--microphone"), ("rpm", "--rpm"), ("cylinders", "--cylinders"))
_CHECK_S = 4  # judgement: time for a clap and a quiet moment; no answer hangs on it


async def screen(request: Request, desk: Desk) -> Response:
    """Show the recording under way, or ask what to record."""
    told = desk.told_before(request) or desk.recording.look().told
    return _page(desk, with_car_of(request, told), complaint=desk.complaint(request))


def _page(desk: Desk, told: Mapping[str, str], *, complaint: str, status: int = 200) -> Response:
    checked, seen = read_document(desk.folder.hidden(CHECKED)) or {}, desk.recording.look()
    return desk.page(
        "record",
        title="Record a drive",
        status=status,
        shelves=desk.folder.look(),
        seen=seen,
        checked=checked,
        microphones=_microphones(checked),
        rpm_sources=_rpm_sources(checked),
        complaint=complaint,
        told=told,
        says=car_says(desk.folder, told.get("car")),
    )


async def check(request: Request, desk: Desk) -> Response:
    """Try the devices."""
    told = await told_in(request)
    words = ["check", "--json", f"--seconds={_CHECK_S}", *options(told, _OPTIONS)]
    return desk.run(
        Errand(
            title="Trying microphone and rpm",
            words=tuple(words),
            done_at="/record",
            failed_at="/record",
            answer=desk.folder.hidden(CHECKED),
            told=told,
            is_on_its_form=True,
        )
    )


async def start(request: Request, desk: Desk) -> Response:
    """Start recording into a new session folder."""
    told = await told_in(request)
    name = told.get("name", "")
    try:
        words = [f"--out={desk.folder.free_path(name)}"]
    except NameRefusedError as error:
        return _page(desk, told, complaint=desk.in_desk_words(str(error)), status=400)
    words += [*options(told, _OPTIONS), *desk.car_option(told.get("car", ""))]
    desk.recording.start(name, words, told)
    return see("/record")


async def mark(request: Request, desk: Desk) -> Response:
    """Mark this moment."""
    del request
    desk.recording.mark()
    return see("/record")


async def stop(request: Request, desk: Desk) -> Response:
    """Save and stop."""
    del request
    desk.recording.stop()
    return see("/record")


async def events(request: Request, desk: Desk) -> Response:
    """Tell the page how the recording stands, as it goes on."""

    def look() -> tuple[Mapping[str, object], bool]:
        seen = desk.recording.look()
        return _shown(seen), seen.is_live

    return live(request, look, every_s=_LOOK_EVERY_S)


def _microphones(checked: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Choices of a form: which microphone."""
    named = [
        (str(each["name"]), f"{each['name']} ({each['host']})")
        for each in checked.get("microphones", [])
    ]
    return [("", "the usual one"), *named]


def _rpm_sources(checked: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Choices of a form: where rpm comes from."""
    sources = [
        ("", "nowhere: the sound alone"),
        ("obd:auto", "OBD-II adapter, looked for by itself"),
        ("pulse:2", "ignition pickup in the second channel"),
    ]
    for port in checked.get("serial_ports") or []:
        device = str(port["device"])
        sources += [
            (f"obd:{device}", f"OBD-II adapter at {device}"),
            (f"serial:{device}", f"serial tach at {device}"),
            (f"gps:{device}", f"GPS at {device}: road speed"),
        ]
    return sources


def _shown(seen: Seen) -> dict[str, object]:
    """Give what the page shows of a status."""
    if seen.status is None:
        return {"state": seen.state}
    status = seen.status
    coverage = status.get("coverage") or {}
    return {
        "state": seen.state,
        "elapsed_s": status.get("elapsed_s"),
        "rpm": status.get("rpm"),
        "level_db": status.get("level_db"),
        "full_scale_db": status.get("full_scale_db"),
        "level_unit": status.get("level_unit"),
        "is_too_loud": status.get("is_too_loud"),
        "devices": [
            {"name": each.get("name"), "light": each.get("light"), "words": each.get("words")}
            for each in status.get("devices", [])
        ],
        "trouble_count": status.get("trouble_count"),
        "last_trouble": status.get("last_trouble"),
        "mark_count": status.get("mark_count"),
        "advice": coverage.get("advice", ""),
        "bins": [[each.get("low_rpm"), each.get("seconds")] for each in coverage.get("bins", [])],
    }
