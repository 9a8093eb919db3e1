"""``car``: a car file, asked for question by question; or one checked and drawn."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import CarError
from logger.command import options
from logger.command.car_answers import CarAnswers
from logger.command.sheets import paper_of
from logger.folder.output_file import refuse_out, write_text, write_whole
from logger.screen.ask import BACK, pose, typed
from logger.screen.terminal import OurConsole, one_line, show

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.describe.question import Question
    from analysis.exhaust.car import Car

NAME = "car"
WHAT = "describe your car: asks, draws the exhaust to scale, writes the car file"
_OUT = Path("car.toml")
_HOW = (
    "For the car file {out}. Enter: I do not know. back: one question back. Ctrl-C: stop, and\n"
    "go on another time."
)
_CAUTION = "Measure a cold exhaust. Car on stands, wheels chocked; never under a jack alone."


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the file to check, or the one to write, and the picture."""
    parser.add_argument(
        "file", nargs="?", **options.takes(Path, "FILE", "car file to check and draw")
    )
    blank = "write sheets to fill in under the car, with these questions, and ask nothing"
    options.add(
        parser,
        ("--out", Path, "FILE.toml", "car file to write (default: car.toml; with FILE: none)"),
        ("--svg", Path, "FILE.svg", "write the drawing, to scale, as a picture"),
        ("--blank", Path, "FILE.pdf", blank),
    )
    options.add_shared(parser, "--paper", "--units", "--overwrite")


def run(arguments: argparse.Namespace) -> int:
    """Check and draw a file, or ask for one; or print sheets to ask it under the car."""
    if arguments.blank is not None:
        return _blank(arguments)
    out = arguments.out or (None if arguments.file is not None else _OUT)
    refuse_out(out, arguments.svg, inputs=(arguments.file,), overwrite=arguments.overwrite)
    if arguments.file is None:
        return _ask(out or _OUT, arguments)
    from analysis.exhaust.car import parse_car, read_car_table

    table = read_car_table(arguments.file)
    car = parse_car(table)
    _draw(car)
    _write(table, car, out, arguments)
    _say_next(out or arguments.file)
    return options.DONE


def _blank(arguments: argparse.Namespace) -> int:
    from analysis.build.sheets.book import PAPERS
    from analysis.build.sheets.measure_sheets import measure_sheets

    if any((arguments.file, arguments.out, arguments.svg)):
        raise options.UsageError("--blank writes empty sheets and goes with --paper alone")
    refuse_out(arguments.blank, inputs=(), overwrite=arguments.overwrite)
    pdf = measure_sheets(PAPERS[paper_of(arguments)])
    write_whole(arguments.blank, pdf, overwrite=arguments.overwrite)
    print(
        f"The sheets are in {arguments.blank}. Fill them in under the car, then run pipenote car "
        "and type what they say."
    )
    return options.DONE


def _ask(out: Path, arguments: argparse.Namespace) -> int:
    """Ask until all is answered; whatever happens, what was answered is kept."""
    kept = CarAnswers.beside(out)
    print(_HOW.format(out=out), _CAUTION, sep="\n")
    if kept.answers:
        print(
            f"Going on after the {len(kept.answers)} answers kept in {kept.path}; delete it to "
            "begin again."
        )
    try:
        table, car = _asked(kept)
    except EOFError as error:
        raise options.UsageError(
            f"no more answers came; {_how_to_go_on(kept, arguments)}"
        ) from error
    except KeyboardInterrupt:
        print(f"\npipenote: stopped; {_how_to_go_on(kept, arguments)}", file=sys.stderr)
        return options.INTERRUPTED
    _write(table, car, out, arguments)
    kept.forget()  # only now: until the car file is there, the answers are all there is
    _say_next(out)
    return options.DONE


def _say_next(file: Path) -> None:
    car = shlex.quote(str(file))
    print(
        f"Next: pipenote import memo.m4a log.csv --car {car} keeps it with a drive; or, by ear, "
        f"pipenote size --rpm 2000 --car {car}"
    )


def _how_to_go_on(kept: CarAnswers, arguments: argparse.Namespace) -> str:
    again = f"pipenote car --out {arguments.out}" if arguments.out else "pipenote car"
    if not kept.answers:
        return f"{again} begins again"
    return f"{len(kept.answers)} answers are kept in {kept.path}, and {again} goes on behind them"


def _asked(kept: CarAnswers) -> tuple[dict[str, object], Car]:
    """Ask, show the car, and ask whether it is right; give what to write."""
    from analysis.describe.car_table import car_table
    from analysis.describe.questions import next_question
    from analysis.exhaust.car import parse_car

    while True:
        while (question := next_question(kept.answers)) is not None:
            _one(question, kept)
        table = car_table(kept.answers)
        car = parse_car(table)
        _draw(car)
        if _is_right(len(kept.answers) + 1):
            return table, car
        kept.back()


def _is_right(number: int) -> bool:
    pose(number, "Is that your car?", ("Enter: yes, write it. no: back to the last question.",))
    while (line := typed().lower()) not in ("", "y", "yes"):
        if line in (*BACK, "n", "no"):
            return False
        print("    Press Enter to write it, or type no.")
    return True


def _one(question: Question, kept: CarAnswers) -> None:
    from analysis.describe.interview import so_far

    unknown = f"Enter: {question.if_unknown}." if question.if_unknown else ""
    choices, words = (
        [(each.name, each.looks) for each in several]
        for several in (question.choices, question.words)
    )
    pose(len(kept.answers) + 1, question.asks, (question.hint, unknown), choices, words)
    while True:
        line = typed()
        if line.lower() in BACK:
            if not kept.back():
                print("    This is the first question.")
            return
        try:
            kept.add(question, line)
        except CarError as error:
            print(f"    {one_line(error)}.")
            continue
        if told := so_far(kept.answers, question.key):
            print(f"    {told}")
        return


def _draw(car: Car) -> None:
    from logger.command.tables.car import can_show_blocks, car_text

    blocks = can_show_blocks(sys.stdout.encoding)
    show(car_text(car, OurConsole(stderr=False).width, blocks=blocks))


def _write(
    table: dict[str, object], car: Car, out: Path | None, arguments: argparse.Namespace
) -> None:
    from analysis.describe.car_text import car_text
    from analysis.describe.stretches import courses_of

    if out is not None:
        write_text(out, car_text(table), overwrite=arguments.overwrite)
        print(f"The car is in {out}.")
    if arguments.svg is None:
        return
    if not (courses := courses_of(car)):
        print("No picture: no piece of the exhaust is told.")
        return
    from analysis.build.drawing.whole_exhaust import exhaust_svg

    title = one_line((out or arguments.file or _OUT).name)
    write_text(arguments.svg, exhaust_svg(courses, title), overwrite=arguments.overwrite)
    print(f"The drawing is in {arguments.svg}; open it with any browser.")
