"""Sentences of NMEA 0183 as a satellite receiver printed them into a file."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from pathlib import Path

import numpy as np

from logger.errors import TelemetryError
from logger.folder.text_decoding import read_text
from logger.importing.request import ImportedTelemetry, TelemetryOptions
from logger.importing.tables.table_shape import MOST_LINES
from logger.importing.tracks.track import telemetry_of_track
from logger.sources.lines.nmea import Sentence, parse_sentence

# judgement: a receiver prints three sentences in 300 bytes; chance gives no checksum that is right
_PROBE_BYTES = 4000
_LEAST_SENTENCES = 3
_NO_DAY = date(1970, 1, 1)  # judgement: any day will do where the sentences tell none


class NmeaImporter:
    """Reads road speed out of RMC, or of VTG behind a GGA that tells the time."""

    name = "nmea"

    def recognises(self, path: Path) -> bool:
        """Look for whole sentences, their checksums right."""
        with path.open("rb") as file:
            lines = file.read(_PROBE_BYTES).splitlines()
        return sum(1 for line in lines if _sentence(line)) >= _LEAST_SENTENCES

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        """Read the speeds.

        Raises
        ------
        TelemetryError
            There are none with a time.
        """
        text = read_text(path, options.encoding)
        if text.count("\n") > MOST_LINES:
            raise TelemetryError(f"{path} is longer than a day of driving; cut it to the drive")
        lines = [line for line in text.split("\n") if line.strip()]
        read = [_sentence(line.encode("ascii", "replace")) for line in lines]
        sentences = [each for each in read if each is not None]
        has_rmc = any(each.kind == "RMC" and each.speed_m_s is not None for each in sentences)
        kind, skipped = "RMC" if has_rmc else "VTG", len(lines) - len(sentences)
        fixes = np.array([*_fixes(sentences, kind)], dtype=np.float64).reshape(-1, 2)
        stamps_s, speeds = fixes.T
        return telemetry_of_track(path, stamps_s, speeds, options, source=kind, skipped=skipped)


def _sentence(line: bytes) -> Sentence | None:
    """Read a line, also one with a time of the logger's own before the sentence."""
    start = line.find(b"$")
    return parse_sentence(line[start:].strip()) if start >= 0 else None


def _fixes(sentences: list[Sentence], kind: str) -> Iterator[tuple[float, float]]:
    """Yield seconds since 1970 and speed of each fix."""
    day = next((each.day for each in sentences if each.day is not None), _NO_DAY)
    clock: time | None = None
    has_fix = False
    for each in sentences:
        if each.day is not None:
            day = each.day
        elif clock is not None and each.clock is not None and each.clock < clock:
            has_turned = clock.hour >= 23 and each.clock.hour < 1
            day = date.fromordinal(day.toordinal() + has_turned)
        clock = each.clock or clock
        has_fix = has_fix if each.has_fix is None else each.has_fix
        if each.kind == kind and each.speed_m_s is not None and clock is not None and has_fix:
            yield datetime.combine(day, clock, UTC).timestamp(), each.speed_m_s
