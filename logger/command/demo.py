"""``demo``: the whole job on three recorded drives, each command shown as a user would type it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
import shlex
from pathlib import Path

from logger.command import compare, find, options, report, size
from logger.command.built import welded_on
from logger.command.drives import car_line, found_in, told_car
from logger.command.sheets import build_wishes
from logger.command.sizing import compare_with_bar, size_wishes, size_with_bar

NAME = "demo"
WHAT = "run the whole job on three recorded drives; needs no hardware"
_SESSIONS = Path(__file__).resolve().parents[2] / "recorded_sessions"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add where the demo writes to."""
    what = "folder for the report (default: pipenote-demo)"
    parser.add_argument("--out", **options.takes(Path, "DIR", what, default=Path("pipenote-demo")))
    options.add_shared(parser, "--overwrite")


def run(arguments: argparse.Namespace) -> int:
    """Do it all, into a new folder."""
    out: Path = arguments.out
    if out.exists() and not arguments.overwrite:
        raise options.UsageError(f"{out} exists already; choose another --out or give --overwrite")
    out.mkdir(parents=True, exist_ok=True)
    here = Path.cwd()
    _show(_SESSIONS.relative_to(here) if _SESSIONS.is_relative_to(here) else _SESSIONS, out)
    print("\nThis car was never built: the three drives come from a computer model of one.")
    print("Next: describe your own car, pipenote car")
    return options.DONE


def _show(sessions: Path, out: Path) -> None:
    """Show each command with what it says; what one worked out is handed on to the next."""
    baseline, postfix = sessions / "baseline", sessions / "postfix"
    with_car = ("--car", sessions / "car.toml")
    as_built = (baseline, postfix, *with_car)
    into = ("--out", out / "report.html", "--sheets", out / "build.pdf", "--overwrite")

    asked = _typed("The drone in the baseline drive", find, baseline)
    findings, _ = found_in(asked.session, asked)
    find.tell(findings, asked)

    asked = _typed("The branch to build", size, baseline, *with_car)
    car, wishes = told_car(asked), size_wishes(asked)
    sizing = size_with_bar(findings, car, wishes)
    size.tell(sizing, build_wishes(asked, car), asked)
    print(car_line(baseline, asked, car))

    asked = _typed("Did it work?", compare, *as_built)
    after, _ = found_in(asked.postfix, asked)
    built = welded_on(baseline, findings, car, wishes, asked, sizing=sizing)
    comparison = compare_with_bar(findings, after, built.welded, car, built.wishes)
    compare.tell(comparison, asked)
    print(car_line(baseline, asked, car))
    print(built.said)

    asked = _typed("An old log without sound", find, sessions / "old_levels")
    find.tell(found_in(asked.session, asked)[0], asked)

    asked = _typed("The report", report, *as_built, *into)
    contents = report.contents_of(asked, findings, car, sizing, after, built, comparison)
    report.tell(contents, asked)
    print(car_line(baseline, asked, car))
    print(built.said)


def _typed(title: str, command: options.Command, *words: object) -> argparse.Namespace:
    """Show a command as a user would type it, and read it as if one had."""
    typed = [command.NAME, *map(str, words)]
    print(f"\n{title}: pipenote {shlex.join(typed)}\n", flush=True)
    parser = options.OneLineParser(allow_abbrev=False)
    command.add_options(parser)
    return parser.parse_args(typed[1:], argparse.Namespace(typed=typed))
