"""Logs as they come out of a dead battery, a bad cable or the wrong program."""
# SPDX-License-Identifier: GPL-2.0-or-later

import random

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
