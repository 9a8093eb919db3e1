"""``report``: everything on one page, and the build sheets."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from logger.command import options
from logger.command.built import (
    Built,
    add_built_option,
    add_keep_option,
    keep,
    refuse_keep,
    told_as_built,
    welded_on,
)
from logger.command.drives import (
    both_found_in,
    car_line,
    found_in,
    refuse_missing,
    refuse_unlike,
    told_car,
)
from logger.command.known_drone import add_known_drone, sized_without_drive
from logger.command.sheets import (
    add_sheet_options,
    build_wishes,
    no_sheets,
    sheets_pdf,
    write_sheets,
)
from logger.command.sizing import add_sizing_options, compare_with_bar, size_wishes, size_with_bar
from logger.folder.harmless import harmless
from logger.folder.output_file import refuse_out, write_text
from logger.screen.terminal import progress_bar
from logger.software import own_version

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.branches import Sizing
    from analysis.build.workshop.plan import BuildWishes
    from analysis.exhaust.car import Car
    from analysis.findings import Findings
    from analysis.listen.two_drives import BothDrives
    from analysis.listen.with_branches import Listening
    from analysis.report.contents import Provenance, ReportContents
    from analysis.verdicts import Comparison

NAME = "report"
WHAT = "write everything into one page that opens in a browser"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the sessions, the page, what is wished and what was built, and the sheets."""
    for name, what in (("session", "session folder"), ("postfix", "session after the work")):
        parser.add_argument(name, nargs="?", **options.takes(Path, name.upper(), what))
    page = "page to write (default: named as the last session, in this folder)"
    options.add(parser, ("--out", Path, "FILE.html", page))
    options.add_shared(parser, "--overwrite")
    add_known_drone(parser)
    add_sizing_options(parser)
    add_built_option(parser)
    add_keep_option(parser)
    add_sheet_options(parser)
    options.add_shared(parser, *options.DRIVE, "--units", "--rpm-at")


def run(arguments: argparse.Namespace) -> int:
    """Find, size and compare, as far as the drives go, and write it down."""
    last = arguments.postfix or arguments.session
    name = "by-ear" if last is None else last.resolve().name
    arguments.out = arguments.out or Path(f"{name}.html")
    outs, inputs = (arguments.out, arguments.sheets), _inputs(arguments)
    refuse_out(*outs, inputs=inputs, overwrite=arguments.overwrite)
    refuse_missing(arguments.session, arguments.postfix)
    build_wishes(arguments)  # a slip in them is told before the work
    refuse_keep(arguments)
    known = sized_without_drive(arguments, NAME)
    if known is not None:
        from analysis.report.sized.without_drive import render_without_drive

        build = build_wishes(arguments, told_car(arguments))
        page = render_without_drive(known, _provenance(arguments), build)
        _write(page, known, build, arguments)
        return options.DONE
    if arguments.postfix is not None:
        refuse_unlike(arguments.session, arguments.postfix, arguments)
    wishes, _ = size_wishes(arguments), told_as_built(arguments)
    keeper, postfix = arguments.session, None
    if arguments.postfix is None:
        findings, car = found_in(keeper, arguments, rpm_at=arguments.rpm_at)
    else:
        findings, postfix, car, keeper = both_found_in(keeper, arguments.postfix, arguments)
    sizing = None if findings.withheld else size_with_bar(findings, car, wishes)
    built = comparison = None
    if postfix is not None:
        built = welded_on(arguments.session, findings, car, wishes, arguments, sizing=sizing)
        comparison = compare_with_bar(findings, postfix, built.welded, car, built.wishes)
    with progress_bar("writing the page"):
        contents = contents_of(arguments, findings, car, sizing, postfix, built, comparison)
    tell(contents, arguments)
    print(car_line(keeper, arguments, car))
    for said in (built.said if built else "", keep(sizing, contents.wishes, arguments)):
        options.say(arguments, said)
    if sizing is not None and sizing.by_thumb is not None:
        print("Next: pipenote car, to describe the exhaust; then the place is worked out")
    elif postfix is None and not no_sheets(sizing):
        compare = shlex.join(("pipenote", "compare", str(arguments.session), "NEW"))
        print(f"Next: build it, drive again in the same way, import that drive as NEW, {compare}")
    return options.DONE


def contents_of(
    arguments: argparse.Namespace,
    findings: Findings,
    car: Car | None,
    sizing: Sizing | None,
    postfix: Findings | None = None,
    built: Built | None = None,
    comparison: Comparison | None = None,
) -> ReportContents:
    """Put together what the page holds; with one drive a model can be heard, with two both."""
    from analysis.job import listen_to_both
    from analysis.listen.with_branches import listening
    from analysis.report.contents import ReportContents
    from logger.session import read_session

    heard: Listening | BothDrives | None
    drive = read_session(arguments.session).drive(channel=arguments.channel)
    if postfix is None or comparison is None:
        heard = None if sizing is None else listening(drive, findings, sizing)
    else:
        after = read_session(arguments.postfix).drive(channel=arguments.channel)
        heard = listen_to_both((drive, after), (findings, postfix), comparison)
    return ReportContents(
        findings=findings,
        sizing=sizing,
        comparison=comparison,
        postfix=postfix,
        built=() if built is None else built.welded.branches,
        provenance=_provenance(arguments),
        wishes=build_wishes(arguments, car),
        heard=heard,
    )


def _provenance(arguments: argparse.Namespace) -> Provenance:
    from analysis.report.contents import Provenance

    typed = [harmless(word) for word in arguments.typed]
    return Provenance.now(own_version(), typed, _inputs(arguments))


def tell(contents: ReportContents, arguments: argparse.Namespace) -> None:
    """Write the page, and the sheets where they are asked for, and say where they are."""
    from analysis.report.page import render_page

    _write(render_page(contents), contents.sizing, contents.wishes, arguments)


def _write(
    page: str, sizing: Sizing | None, build: BuildWishes, arguments: argparse.Namespace
) -> None:
    # before the page: what will not fold leaves nothing behind
    pdf = sheets_pdf(sizing, build, arguments)
    write_text(arguments.out, page, overwrite=arguments.overwrite)
    print(f"The report is in {arguments.out}; open it with any browser.")
    options.say(arguments, write_sheets(pdf, sizing, arguments))


def _inputs(arguments: argparse.Namespace) -> tuple[Path | None, ...]:
    return arguments.session, arguments.postfix, arguments.car
