"""What every screen needs: the folder, the errands, the secret, and how a page is made."""
# SPDX-License-Identifier: GPL-2.0-or-later

import os
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import quote, urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from analysis.describe.said import with_unit
from analysis.words.doubt_names import name_of
from analysis.words.front import in_desk_words
from analysis.words.quantities import decibel, hertz, rpm, rpm_between
from analysis.words.sentences import sentence
from analysis.words.shown import either
from logger.desk.errands import Errand, Errands, Running
from logger.desk.folder import HIDDEN, DeskFolder, DriveOnDesk
from logger.desk.next_step import next_step, sized_before
from logger.desk.recording import RecordingWatch
from logger.desk.words import option
from logger.errors import LoggerError

_IN_INBOX = re.compile(
    rf"{re.escape(HIDDEN)}[/\\]inbox[/\\]\w+[/\\](audio|second-audio|telemetry) [0-9]+ "
)
_MOST_FIELDS = 60  # judgement: more than any form of ours has


class CarGoneError(LoggerError):
    """A car file that was chosen, and that somebody took away meanwhile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """One start of the desk."""

    folder: DeskFolder
    errands: Errands
    recording: RecordingWatch
    secret: str
    templates: Environment

    def page(
        self, name: str, /, *, title: str, complaint: str = "", status: int = 200, **values: object
    ) -> Response:
        """Make a page from its template; every text in it is escaped.

        ``complaint`` stands first: why a form was refused, or the errand that it started.
        """
        text = self.templates.get_template(f"{name}.html.j2").render(
            title=title,
            complaint=complaint,
            folder=self.folder.path,
            units=self.folder.units(),
            under_way=self.errands.under_way(),
            live=self.recording.look(),
            act=self.act,
            after=self.after,
            in_desk_words=self.in_desk_words,
            **values,
        )
        return HTMLResponse(text, status_code=status)

    def act(self, path: str) -> str:
        """Give the address that a form of ours posts to."""
        return f"{path}?{urlencode({'secret': self.secret})}"

    def complaint(self, request: Request) -> str:
        """Give what the errand complained of that sent the browser to this page; "" for none."""
        running = self.errands.get(request.query_params.get("errand", ""))
        if running is None or running.is_answered:
            return ""
        return self.in_desk_words(running.complaint)

    def units_option(self) -> list[str]:
        """Give the option for what lengths are shown in."""
        return [f"--units={self.folder.units()}"]

    def car_option(self, name: str) -> list[str]:
        """Give the option for the car file that was chosen; nothing where none was.

        Raises
        ------
        CarGoneError
            It is not there any more.
        """
        file = self.folder.car(name) if name else None
        if name and file is None:
            raise CarGoneError(f"there is no car file {name} any more")
        return option("--car", str(file or ""))

    def with_units(self, told: Mapping[str, str], names: Iterable[str]) -> dict[str, str]:
        """Give what was told with its lengths in full: a bare one is in the unit that was chosen.

        What is kept may be read again when the desk shows other units.
        """
        unit = {"metric": "mm", "inch": "in"}.get(self.folder.units(), "")
        return {**told, **{name: with_unit(told[name], unit) for name in names if name in told}}

    def told_before(self, request: Request) -> Mapping[str, str]:
        """Give what was typed for the errand that sent the browser to this page, by field."""
        running = self.errands.get(request.query_params.get("errand", ""))
        return {} if running is None else running.errand.told

    def in_desk_words(self, complaint: str) -> str:
        """Give a complaint as the desk says it: nobody typed paths of this folder, or options."""
        without_paths = _IN_INBOX.sub("", complaint.replace(f"{self.folder.path}{os.sep}", ""))
        return sentence(in_desk_words(without_paths))

    def after(self, running: Running) -> str:
        """Give the page to go to after an errand; its form stands there as it was typed."""
        errand = running.errand
        if running.is_answered and not errand.is_on_its_form:
            return errand.done_at
        page = errand.done_at if running.is_answered else errand.failed_at
        return f"{page}{'&' if '?' in page else '?'}errand={running.number}"

    def run(self, errand: Errand) -> Response:
        """Start an errand, and show how it goes."""
        return see(f"/errands/{self.errands.start(errand).number}")

    def trouble(self, what: str, *, back: str = "/", status: int = 400) -> Response:
        """Say in a page of its own what cannot be done."""
        return self.page(
            "trouble", title="That cannot be done", complaint=what, status=status, back=back
        )


def see(path: str) -> Response:
    """Send the browser to another page."""
    return RedirectResponse(path, status_code=303)


def address(*parts: str) -> str:
    """Join parts to the path of a page; a name may hold any sign."""
    return "".join(f"/{quote(part, safe='')}" for part in parts)


def with_car_of(request: Request, told: Mapping[str, str]) -> dict[str, str]:
    """Give what was told on a form, with the car that its page was asked for with, if any."""
    asked = {name: car for name, car in request.query_params.items() if name == "car"}
    return {**told, **asked}


async def told_in(request: Request) -> dict[str, str]:
    """Read a form without files, by field."""
    return texts_of(await request.form(max_files=0, max_fields=_MOST_FIELDS))


def texts_of(form: FormData) -> dict[str, str]:
    """Give all that was typed into a form, by field."""
    return {name: value.strip() for name, value in form.items() if isinstance(value, str)}


def make_templates() -> Environment:
    """Give the templates, with what they need to show times and lengths."""
    environment = Environment(
        loader=PackageLoader("logger.desk", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    filters: dict[str, Callable[..., str]] = {
        "when": _when,
        "minutes": _minutes,
        "at": address,
        "rpm": rpm,
        "hertz": hertz,
        "decibel": decibel,
        "doubts": _doubts,
    }
    environment.filters |= filters
    environment.globals |= {
        "either": either,
        "next_step": next_step,
        "sized_before": sized_before,
        "rpm_between": rpm_between,
        "follows": _follows,
        "numbered_bands": _numbered_bands,
        "named_drives": _named_drives,
        "named_columns": _named_columns,
    }
    return environment


def _follows(found: Mapping[str, Any], number: int) -> str:
    """Say what the ``number``-th band follows, as the report does: what its resonance does."""
    band = found["drone_bands"][number - 1]
    cause = next((each for each in found["causes"] if number in each["bands"]), band)
    return str(cause["locked_to"])


def _doubts(found: Mapping[str, Any]) -> str:
    """Name the doubts about a drive, as the report does."""
    return "; ".join(name_of(each["code"]) for each in found.get("warnings", ()))


def _numbered_bands(bands: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Choices of a form: which drone."""
    return [
        (str(number), f"{number}: at {rpm(band['peak_rpm'])}, {hertz(band['peak_hz'])}")
        for number, band in enumerate(bands, start=1)
    ]


def _named_columns(columns: Iterable[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Choices of a form: which column, and what it was taken for."""
    return [
        (each["column"], f"{each['column']} (now: {each['meaning'] or 'not used'})")
        for each in columns
    ]


def _named_drives(drives: Iterable[DriveOnDesk]) -> list[tuple[str, str]]:
    """Choices of a form: which drive."""
    return [(each.name, f"{each.name}, {_when(each.start) or 'day not known'}") for each in drives]


def _when(moment: datetime | None) -> str:
    return "" if moment is None else moment.astimezone().strftime("%d %b %Y, %H:%M")


def _minutes(duration_s: float | None) -> str:
    if duration_s is None:
        return "no sound"
    minutes, seconds = divmod(round(duration_s), 60)
    return f"{minutes}:{seconds:02d} min"
