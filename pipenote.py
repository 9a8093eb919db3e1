"""The door: parse what was typed, run one command, map errors to an exit status."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import signal
import sys
import warnings

try:
    import argparse
    from collections.abc import Sequence
    from contextlib import nullcontext
    from typing import NoReturn

    from analysis.errors import AnalysisError
    from analysis.words.front import at_the_desk, here
    from analysis.words.shown import Units, showing
    from logger.command import (
        car,
        check,
        compare,
        demo,
        desk,
        find,
        history,
        import_,
        options,
        record,
        report,
        size,
    )
    from logger.command.options import BAD_INPUT, DONE, INTERRUPTED, NO_DEVICE
    from logger.errors import DeviceError, LoggerError
    from logger.screen.terminal import FRONT_KEY, drop_output, one_line, open_closed_streams
    from logger.software import own_version
except KeyboardInterrupt:  # loading takes a moment, in which somebody may think better of it
    print("pipenote: interrupted", file=sys.stderr)
    sys.exit(130)

COMMANDS: tuple[options.Command, ...] = (
    *(demo, car, check, record, import_),
    *(find, size, compare, history, report, desk),
)


def program() -> NoReturn:
    """Run one command as a program that nothing can interrupt any more once it is done."""
    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # a library's, for programmers; ours are told in words
    for name in ("SIGTERM", "SIGHUP", "SIGBREAK"):  # as Ctrl-C does, so that all is cleared away
        number = getattr(signal, name, signal.SIGINT)
        if signal.getsignal(number) is signal.SIG_DFL:  # what nohup ignores stays ignored
            signal.signal(number, signal.default_int_handler)
    try:
        status = main()
    except KeyboardInterrupt:  # while it said what went wrong
        status = INTERRUPTED
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.exit(status)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status."""
    open_closed_streams()
    with at_the_desk() if os.environ.get(FRONT_KEY) == "desk" else nullcontext():
        return _told(argv)


def _told(argv: Sequence[str] | None) -> int:
    try:
        typed = list(sys.argv[1:] if argv is None else argv)
        arguments = make_parser().parse_args(typed, argparse.Namespace(typed=typed))
        with showing(Units(getattr(arguments, "units", Units.BOTH))):
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


def make_parser() -> argparse.ArgumentParser:
    """Every command and option; a function, so that a test can compare the README with it."""
    parser = options.OneLineParser(
        prog="pipenote",
        description="Find the drone of a home-built exhaust, size the side branch that cures it, "
        "and prove that it worked.",
        epilog="Help on one command: pipenote COMMAND --help. Drive by the law, not by the rev "
        "counter, and let a second person watch the log. Never run an engine indoors.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"pipenote {own_version()}")
    group = parser.add_subparsers(metavar="COMMAND", required=True)
    for command in COMMANDS:
        what = command.WHAT
        own = group.add_parser(command.NAME, help=what, description=what, allow_abbrev=False)
        own.set_defaults(run=command.run)
        command.add_options(own)
    return parser


def _complain(trouble: object, status: int) -> int:
    print(f"pipenote: {here(one_line(trouble))}", file=sys.stderr)
    return status


if __name__ == "__main__":
    program()
