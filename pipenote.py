"""The command: parse, call one library function, map errors to an exit status."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import signal
import sys

try:
    import argparse
    import json
    import shlex
    from collections.abc import Sequence
    from pathlib import Path
    from typing import TYPE_CHECKING, NoReturn

    from rich.console import RenderableType

    from analysis.errors import AnalysisError
    from logger.command import car_options, options, sheet_options, sizing_options
    from logger.command.check_options import add_check_options
    from logger.command.demo_options import add_demo_options, demo_steps
    from logger.command.history_options import add_history_options
    from logger.command.import_options import add_import_options, import_request
    from logger.command.record_options import add_record_options, record_request
    from logger.errors import DeviceError, LoggerError
    from logger.screen.terminal import (
        MessageConsole,
        drop_output,
        one_line,
        open_closed_streams,
        progress_bar,
        show,
    )
    from logger.software import own_version
except KeyboardInterrupt:  # loading takes a moment, in which somebody may think better of it
    print("pipenote: interrupted", file=sys.stderr)
    sys.exit(130)

if TYPE_CHECKING:  # what a command needs it imports itself, so that --help is quick
    from analysis.branches import Sizing
    from analysis.drive import Engine
    from analysis.exhaust.car import Car
    from analysis.findings import Findings
    from logger.session import Session

DONE, BAD_INPUT, NO_DEVICE, INTERRUPTED = 0, 2, 3, 130

Arguments = argparse.Namespace


class UsageError(LoggerError):
    """Options that do not go together."""


def program() -> NoReturn:
    """Run one command as a program that nothing can interrupt any more once it is done."""
    try:
        status = main()
    except KeyboardInterrupt:  # while it said what went wrong
        status = INTERRUPTED
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.exit(status)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status."""
    open_closed_streams()
    try:
        typed = list(sys.argv[1:] if argv is None else argv)
        arguments = make_parser().parse_args(typed, argparse.Namespace(typed=typed))
        status: int = arguments.run(arguments)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read along has read enough, as head does
        drop_output()
        return DONE
    except DeviceError as error:
        return _complain(error, NO_DEVICE)
    except (AnalysisError, LoggerError) as error:
        return _complain(error, BAD_INPUT)
    except OSError as error:
        return _complain(f"{error.filename or 'the output'}: {error.strerror or error}", BAD_INPUT)
    except KeyboardInterrupt:
        return _complain("interrupted", INTERRUPTED)
    return status


# --- commands -----------------------------------------------------------------------------------


def _demo(arguments: Arguments) -> int:
    """Run the commands that a user would type, one after the other."""
    out: Path = arguments.out
    if out.exists() and not arguments.overwrite:
        raise UsageError(f"{out} exists already; choose another --out or give --overwrite")
    out.mkdir(parents=True, exist_ok=True)
    for title, command in demo_steps(out):
        print(f"\n{title}: pipenote {shlex.join(command)}\n", flush=True)
        status = main(command)
        if status != DONE:
            return status
    print("\nThis car was never built: the three drives come from a computer model of one.")
    return DONE


def _check(arguments: Arguments) -> int:
    from logger.check.check import calibrate, calibration_text, check_devices, failures_as_error
    from logger.command.check_options import check_request

    request = check_request(arguments)
    console = MessageConsole()
    if arguments.calibrate is not None:
        calibration = calibrate(
            request,
            arguments.calibrate,
            arguments.out,
            console,
            overwrite=arguments.overwrite,
            software_version=own_version(),
        )
        show(calibration_text(calibration, arguments.out))
        return DONE
    result = check_devices(request, console)
    show(result.text)
    if result.failures:
        raise failures_as_error(result.failures)
    return DONE


def _record(arguments: Arguments) -> int:
    from logger.screen.stop_signals import stop_signals

    with stop_signals() as stopped:  # before all else: what is called from C loses a Ctrl-C
        from analysis.exhaust.car import parse_car, read_car_table
        from logger.record import record, saved_lines

        car = None if arguments.car is None else read_car_table(arguments.car)
        engine = _engine(arguments, None if car is None else parse_car(car))
        request = record_request(
            arguments,
            car=car,
            cylinders=None if engine is None else engine.cylinders,
            stroke_cycle=4 if engine is None else engine.stroke_cycle,
        )
        recorded = record(request, MessageConsole(), stopped)
        status = INTERRUPTED if stopped() else DONE
        try:
            print(*saved_lines(recorded), sep="\n")
        except OSError:  # the window was closed; the drive is saved all the same
            drop_output()
        return status


def _import(arguments: Arguments) -> int:
    from analysis.exhaust.car import read_car_table
    from logger.importing.importer import import_session
    from logger.screen.text_tables import import_table

    request = import_request(
        arguments, None if arguments.car is None else read_car_table(arguments.car)
    )
    with progress_bar("importing") as progress:
        summary = import_session(
            request, arguments.out, overwrite=arguments.overwrite, progress=progress
        )
    show(import_table(summary))
    return DONE


def _find(arguments: Arguments) -> int:
    from analysis.answers.documents import find_document
    from logger.command.tables.find import find_text

    findings, _ = _findings(arguments.session, arguments)
    _give(arguments, find_document(findings), find_text(findings))
    return DONE


def _size(arguments: Arguments) -> int:
    from analysis.answers.documents import no_drone_document
    from analysis.answers.sizing_document import sizing_document
    from logger.command.tables.size import size_text

    sheet_options.refuse_sheets(arguments)
    sizing = _sizing_as_asked(arguments)
    if sizing is not None:
        sheet_options.write_sheets(sizing, arguments)
    if sizing is None:
        why = f"{arguments.session} holds no drone that a branch could cure, so nothing is sized."
        _give(arguments, no_drone_document(why), why)
    else:
        _give(arguments, sizing_document(sizing), size_text(sizing))
    return DONE


def _compare(arguments: Arguments) -> int:
    from analysis.answers.documents import comparison_document
    from logger.command.tables.compare import compare_text

    car_options.refuse_car(arguments)
    baseline, car = _findings(arguments.baseline, arguments)
    postfix, _ = _findings(arguments.postfix, arguments)
    built = sizing_options.branches_as_built(baseline, car, arguments)
    with progress_bar("comparing") as bar:
        comparison = sizing_options.compare_built(baseline, postfix, built, car, arguments, bar)
    _give(arguments, comparison_document(comparison), compare_text(comparison))
    written = car_options.write_car(comparison, arguments)
    print("" if arguments.json else written, end="")
    return DONE


def _history(arguments: Arguments) -> int:
    from analysis.answers.history_document import history_document
    from analysis.compare.history import make_history
    from analysis.report import write_history
    from analysis.report.provenance import provenance_now
    from analysis.report.writing import refuse_out
    from logger.command.tables.history import history_text
    from logger.shelf import read_shelf

    inputs = (arguments.folder, arguments.car)
    refuse_out(arguments.out, inputs, overwrite=arguments.overwrite)
    shelf = read_shelf(arguments.folder)
    history = make_history(
        shelf.sessions,
        lambda shelved: _findings_in(shelved.session, arguments)[0],
        shelf.unreadable,
        baseline=arguments.baseline,
        refused=(AnalysisError, LoggerError),
    )
    if arguments.out is not None:
        made = provenance_now(own_version(), arguments.typed, inputs)
        write_history(arguments.out, history, made, overwrite=arguments.overwrite)
    _give(arguments, history_document(history), history_text(history))
    if arguments.out is not None and not arguments.json:
        print(f"The history is in {arguments.out}; open it with any browser.")
    return DONE


def _report(arguments: Arguments) -> int:
    from analysis.report import ReportContents, write_report
    from analysis.report.provenance import provenance_now
    from analysis.report.writing import refuse_out

    inputs = (arguments.session, arguments.postfix, arguments.car)
    refuse_out(arguments.out, inputs, overwrite=arguments.overwrite)
    sheet_options.refuse_sheets(arguments)
    findings, car = _findings(arguments.session, arguments)
    postfix = None if arguments.postfix is None else _findings(arguments.postfix, arguments)[0]
    sizing = None if findings.withheld else _sizing_for_drive(findings, car, arguments)
    built = sizing_options.branches_as_built(findings, car, arguments, sizing)
    comparison = None
    if postfix is not None:
        with progress_bar("comparing") as bar:
            comparison = sizing_options.compare_built(findings, postfix, built, car, arguments, bar)
    contents = ReportContents(
        findings=findings,
        sizing=sizing,
        comparison=comparison,
        postfix=postfix,
        built=built,
        provenance=provenance_now(own_version(), arguments.typed, inputs),
    )
    write_report(arguments.out, contents, overwrite=arguments.overwrite)
    print(f"The report is in {arguments.out}; open it with any browser.")
    print(sheet_options.sheets_of_report(sizing, arguments), end="")
    return DONE


# --- what several commands need -----------------------------------------------------------------


def _findings(path: Path, arguments: Arguments) -> tuple[Findings, Car | None]:
    """Read a session and find its drone; with the car from --car, or else from the session."""
    from logger.session import read_session

    return _findings_in(read_session(path), arguments)


def _findings_in(session: Session, arguments: Arguments) -> tuple[Findings, Car | None]:
    from analysis.exhaust.car import parse_car, read_car_table
    from analysis.find.drone import find_drone

    table = session.metadata.car if arguments.car is None else read_car_table(arguments.car)
    car = None if table is None else parse_car(table)
    engine = _engine(arguments, None if arguments.car is None else car)
    with progress_bar(f"listening to {session.path.name}") as progress:
        drive = session.drive(channel=arguments.channel, engine=engine)
        return find_drone(drive, progress=progress), car


def _engine(arguments: Arguments, car: Car | None) -> Engine | None:
    from analysis.drive import Engine

    if arguments.cylinders is None:
        return None if car is None else car.engine
    return Engine(cylinders=arguments.cylinders)


def _sizing_as_asked(arguments: Arguments) -> Sizing | None:
    frequency_hz = sizing_options.asked_frequency(arguments)
    if frequency_hz is not None:
        with progress_bar("sizing") as progress:
            return sizing_options.sizing_for_frequency(frequency_hz, arguments, progress)
    findings, car = _findings(arguments.session, arguments)
    return _sizing_for_drive(findings, car, arguments)


def _sizing_for_drive(findings: Findings, car: Car | None, arguments: Arguments) -> Sizing | None:
    with progress_bar("sizing") as progress:
        return sizing_options.sizing_for_drive(findings, car, arguments, progress)


# --- output -------------------------------------------------------------------------------------


def _give(arguments: Arguments, document: object, table: RenderableType) -> None:
    """One JSON document, or a table for people."""
    if arguments.json:
        print(json.dumps(document, allow_nan=False, indent=2))
    else:
        show(table)


def _complain(trouble: object, status: int) -> int:
    print(f"pipenote: {one_line(trouble)}", file=sys.stderr)
    return status


# --- options ------------------------------------------------------------------------------------


def make_parser() -> argparse.ArgumentParser:
    """Every command and option; a function, so that a test can compare the README with it."""
    return options.command_parser(_COMMANDS)


def _size_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("session", type=Path, nargs="?", metavar="SESSION", help="session folder")
    sizing_options.add_target_options(parser)
    sizing_options.add_sizing_options(parser)
    sheet_options.add_sheet_options(parser)
    options.add_overwrite_option(parser)
    options.add_drive_options(parser)
    options.add_json_option(parser)


def _compare_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("baseline", type=Path, metavar="BASELINE", help="session before the work")
    parser.add_argument("postfix", type=Path, metavar="POSTFIX", help="session after the work")
    sizing_options.add_sizing_options(parser)
    sizing_options.add_built_option(parser)
    car_options.add_car_options(parser)
    options.add_overwrite_option(parser)
    options.add_drive_options(parser)
    options.add_json_option(parser)


def _report_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("session", type=Path, metavar="SESSION", help="session folder")
    parser.add_argument("postfix", type=Path, nargs="?", metavar="POSTFIX", help="after the work")
    options.add_out_option(parser, "FILE.html", "page to write")
    options.add_overwrite_option(parser)
    sizing_options.add_sizing_options(parser)
    sizing_options.add_built_option(parser)
    sheet_options.add_sheet_options(parser)
    options.add_drive_options(parser)


_COMMANDS = (
    (
        "demo",
        _demo,
        add_demo_options,
        "run the whole job on three recorded drives; needs no hardware",
    ),
    (
        "check",
        _check,
        add_check_options,
        "list microphones and serial ports, try each chosen one; or calibrate",
    ),
    ("record", _record, add_record_options, "log a drive, sound and rpm, into a session folder"),
    ("import", _import, add_import_options, "make a session folder from files recorded elsewhere"),
    ("find", _find, options.add_session, "find the drone: engine order, rpm, frequency, width"),
    ("size", _size, _size_options, "size one or two closed side branches"),
    (
        "compare",
        _compare,
        _compare_options,
        "did it work? the drive before against the drive after",
    ),
    ("history", _history, add_history_options, "every run of a folder against the first one"),
    ("report", _report, _report_options, "write everything into one page that opens in a browser"),
)

if __name__ == "__main__":
    program()
