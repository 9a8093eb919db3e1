"""``import``: a session folder from files recorded elsewhere.

An option for each thing that a file may not say itself.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from logger.command import options
from logger.importing.file_kinds import sorted_by_kind
from logger.importing.tables.column_names import HINTS, KINDS
from logger.screen.terminal import progress_bar

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from logger.importing.request import ImportRequest

NAME = "import"
WHAT = "make a session folder from files recorded elsewhere"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add files and where the session goes, and options named as fields of the import request."""
    files = (
        "sound, log and car file in any order, told apart by their names' endings; or give each "
        "with its option"
    )
    parser.add_argument("files", nargs="*", **options.takes(Path, "FILE", files))
    out = "session folder to make (default: named as the sound, else as the log)"
    options.add(parser, ("--out", Path, "DIR", out))
    options.add_shared(parser, "--overwrite", *options.ENGINE, "--json")
    _add_files(parser)
    _add_what_was_recorded(parser)
    _add_columns(parser)


def _add_files(parser: argparse.ArgumentParser) -> None:
    audio = (
        "WAV, FLAC, or the sound or video file of a phone or recorder; several are parts of one "
        "recording, in their order"
    )
    second = (
        "what another recorder heard of the same drive, at the tailpipe say; becomes further "
        "channels"
    )
    telemetry = (
        "CSV or xlsx with time and rpm, or a GPX or NMEA track; several are put on a common clock"
    )
    several: dict[str, Any] = {"nargs": "+", "action": "extend", "default": []}
    parser.add_argument("--audio", **options.takes(Path, "FILE", audio), **several)
    options.add(parser, ("--second-audio", Path, "FILE", second))
    parser.add_argument("--telemetry", **options.takes(Path, "FILE", telemetry), **several)


def _add_what_was_recorded(parser: argparse.ArgumentParser) -> None:
    started = (
        "when the drive began, as '2024-06-08 10:05' (default: from the log, else the recording, "
        "else the file's date)"
    )
    options.add(
        parser,
        ("--name", str, "NAME", "name of the session (default: that of the folder)"),
        ("--started", options.moment, "TIME", started),
        ("--channel", int, "N", "keep this channel of the sound only"),
    )
    options.add_shared(parser, "--tail-channel")
    spl = "sound pressure level of a full-scale sine, from a calibrator"
    calibrated = "from pipenote check --calibrate, with the same microphone and gain"
    options.add(
        parser.add_mutually_exclusive_group(),
        ("--full-scale-db-spl", float, "DB", spl),
        ("--calibration", Path, "FILE", calibrated),
    )
    options.add_shared(parser, "--microphone-response")
    options.add(parser, ("--importer", str, "NAME", "telemetry importer to use"))
    options.list_added(parser, "pipenote.importers", "--importer {}")


def _add_columns(parser: argparse.ArgumentParser) -> None:
    columns = parser.add_argument_group(
        "columns and units", "A column by its name or its number; what is not given is found out."
    )
    for kind in KINDS.values():
        what = f"column of {kind.what}" + (", or none" if kind.option == "rpm" else "")
        options.add(columns, (f"--{kind.option}-column", str, "COLUMN", what))
    offsets = "added to every time; with several telemetry files one number for each"
    columns.add_argument(
        "--time-offset-s", **options.takes(float, "S", offsets, nargs="+", default=[])
    )
    options.add(columns, *((f"--{option}", str, value, what) for option, value, what in HINTS))


def run(arguments: argparse.Namespace) -> int:
    """Import, and tell how everything was understood."""
    _take_files(arguments)
    with progress_bar("importing") as progress:
        from logger.command.tables.import_ import import_table
        from logger.importing.import_session import import_session

        request = _request(arguments)
        summary = import_session(
            request, arguments.out, overwrite=arguments.overwrite, progress=progress
        )
    options.give(arguments, summary.document(), import_table(summary))
    has_rpm = any(column.meaning == "rpm" for column in summary.columns)
    asks = () if has_rpm or request.cylinders is not None else ("--cylinders", "N")
    following = "size" if arguments.car is None else "find"  # as the README goes on from each
    options.say_next(arguments, following, arguments.out, *asks)
    return options.DONE


def _take_files(arguments: argparse.Namespace) -> None:
    """Put files given without an option where their options would, and name the session."""
    by_kind = sorted_by_kind(arguments.files)
    arguments.audio = [*arguments.audio, *by_kind["audio"]]
    arguments.telemetry = [*arguments.telemetry, *by_kind["telemetry"]]
    cars = [*filter(None, (arguments.car,)), *by_kind["car"]]
    if len(cars) > 1:
        raise options.UsageError(f"{cars[0]} and {cars[1]} are both car files; give one")
    arguments.car = next(iter(cars), None)
    named_after = next(iter([*arguments.audio, *arguments.telemetry]), None)
    if named_after is None:
        raise options.UsageError(
            "nothing to import; give the sound, the log or both: pipenote import memo.m4a log.csv"
        )
    arguments.out = arguments.out or Path(named_after.stem)


def _request(arguments: argparse.Namespace) -> ImportRequest:
    from analysis.exhaust.car import ROTARY, parse_car, read_car_table
    from logger.importing.request import ImportRequest, TelemetryOptions
    from logger.microphone.calibration import read_calibration
    from logger.microphone.response_file import read_response

    table = None if arguments.car is None else read_car_table(arguments.car)
    car = None if table is None else parse_car(table)
    cylinders, stroke_cycle = arguments.cylinders, arguments.stroke_cycle
    if car is not None and cylinders is None and stroke_cycle is None:
        cylinders, stroke_cycle = car.engine.cylinders, car.engine.stroke_cycle
    elif car is not None and car.layout == ROTARY:
        raise options.UsageError("the car file gives rotors; leave --cylinders out, or the file")
    response = arguments.microphone_response
    calibration = None if arguments.calibration is None else read_calibration(arguments.calibration)
    columns = {
        field.name: getattr(arguments, field.name)
        for field in fields(TelemetryOptions)
        if field.name != "time_offset_s"  # each file has its own
    }
    return ImportRequest(
        audio=tuple(arguments.audio),
        second_audio=arguments.second_audio,
        telemetry=tuple(arguments.telemetry),
        time_offsets_s=tuple(arguments.time_offset_s),
        channel=arguments.channel,
        tail_channel=arguments.tail_channel,
        name=arguments.name,
        started=arguments.started,
        car=table,
        cylinders=cylinders,
        stroke_cycle=stroke_cycle,
        full_scale_db_spl=(
            arguments.full_scale_db_spl if calibration is None else calibration.full_scale_db_spl
        ),
        response=() if response is None else read_response(response),
        importer=arguments.importer,
        options=TelemetryOptions(**columns),
    )
