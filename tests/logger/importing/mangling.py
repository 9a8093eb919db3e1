"""Logs as they come out of a dead battery, a bad cable or the wrong program."""
# SPDX-License-Identifier: GPL-2.0-or-later

import random
from typing import Any

from logger.importing.request import TelemetryOptions
from tests.logger.importing.tables.log_shapes import SHAPES
from tests.logger.importing.tables.test_csv_examples import EXAMPLES
from tests.logger.importing.tracks.test_tracks import gpx, nmea

SOURCES: tuple[bytes, ...] = (
    *(path.read_bytes() for path in sorted(EXAMPLES.glob("*.csv"))),
    *(
        shape.content if isinstance(shape.content, bytes) else shape.content.encode()
        for shape in SHAPES
    ),
    gpx(speeds=1.0).encode(),
    nmea().encode(),
)
_CELLS = (
    b"",
    b"-",
    b"nan",
    b"1e400",
    b"12:00:01",
    b"rpm",
    b"s",
    b"km/h",
    b"842 rpm",
    b"\xff",
    b'"',
)

_SAID = {
    "time_column": ("1", "2", "Time"),
    "time_unit": ("s", "ms", "min", "0.1 s", "h:min", "min:s"),
    "rpm_column": ("none", "2", "3", "RPM", "Value"),
    "rpm_unit": ("rpm", "rev/s", "1000 rpm", "0.25 rpm"),
    "speed_column": ("3", "1"),
    "speed_unit": ("km/h", "mph"),
    "level_column": ("3", "4"),
    "level_weighting": ("A", "z"),
    "delimiter": ("comma", "space", "tab", ";"),
    "decimal": ("point", "comma"),
    "date_order": ("dmy", "mdy"),
    "encoding": ("cp1251", "utf-16", "gb18030"),
    "worksheet": ("1",),
}


def any_options(rng: random.Random) -> TelemetryOptions:
    """Say nothing of a log, or anything, be it true or not."""
    if rng.random() < 0.5:
        return TelemetryOptions()
    said: dict[str, Any] = {
        name: rng.choice(values) for name, values in _SAID.items() if rng.random() < 0.3
    }
    return TelemetryOptions(**said)


def mangled(rng: random.Random) -> bytes:
    """Take one of the logs and change bytes, cells or lines of it, or cut it."""
    content = bytearray(rng.choice(SOURCES))
    for _ in range(rng.randint(1, 4)):
        rng.choice((_bytes, _bytes, _cell, _lines))(content, rng)
    end = rng.choice((len(content), len(content), rng.randint(0, len(content))))
    return bytes(content[:end])


def _bytes(content: bytearray, rng: random.Random) -> None:
    at = rng.randint(0, len(content))
    content[at : at + rng.randint(0, 12)] = rng.randbytes(rng.randint(0, 12))


def _cell(content: bytearray, rng: random.Random) -> None:
    parts = content.split(rng.choice((b",", b";", b"\t")))
    if len(parts) > 1:
        parts[rng.randrange(len(parts))] = bytearray(rng.choice(_CELLS))
        content[:] = rng.choice((b",", b";")).join(parts)


def _lines(content: bytearray, rng: random.Random) -> None:
    lines = content.split(b"\n")
    at = rng.randrange(len(lines))
    kind = rng.randrange(3)
    if kind == 0:
        del lines[at : at + rng.randint(1, 3)]
    elif kind == 1:
        lines[at:at] = lines[: rng.randint(1, 4)]
    else:
        rng.shuffle(lines)
    content[:] = b"\n".join(lines)
