"""GPX tracks (version 1.0 and 1.1, as published by their authors; from memory)."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from logger.arrays import FloatArray
from logger.errors import TelemetryError
from logger.folder.text_decoding import read_log
from logger.importing.request import ImportedTelemetry, TelemetryOptions
from logger.importing.tables.number_text import finite_number
from logger.importing.tables.time_text import iso_seconds
from logger.importing.tables.units import UNITS, asked_unit
from logger.importing.tracks.track import telemetry_of_track

_PROBE_BYTES = 2000  # judgement: the root element stands behind one or two lines
_EARTH_RADIUS_M = 6_371_008.8  # mean radius (IUGG), from memory; GPS errors are far larger
_SHARE_WITH_SPEED = 0.5  # judgement: with fewer, speed comes from the positions
_MOVING_M_S = 3.0  # judgement: below it positions tell no speed
_AGREES = 0.2  # judgement: units differ by 1.6 and more, and positions are within a tenth
_FEWEST_TO_CHECK = 5  # judgement: a median of fewer hangs on one bad position
_DECLARED = re.compile(rb"<!(DOCTYPE|ENTITY)")


class GpxImporter:
    """Reads the road speed of a GPX track."""

    name = "gpx"

    def recognises(self, path: Path) -> bool:
        """Look for the root element."""
        with path.open("rb") as file:
            return b"<gpx" in file.read(_PROBE_BYTES).replace(b"\0", b"")

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        """Read the track.

        Raises
        ------
        TelemetryError
            It is damaged, has no times, or its speeds do not fit its positions and nobody gave
            their unit.
        """
        fixes = np.array([*_fixes(path)], dtype=np.float64).reshape(-1, 4)
        stamps_s, stated = fixes[:, 0], fixes[:, 3]
        moved_m_s = _speed_of_positions(stamps_s, fixes[:, 1], fixes[:, 2])
        if stated.size and np.isfinite(stated).mean() >= _SHARE_WITH_SPEED:
            factor = _factor(path, stated, moved_m_s, options.speed_unit)
            return telemetry_of_track(path, stamps_s, factor * stated, options, source="speed")
        note = "The track tells no speed; it was taken from the distance between its positions."
        return telemetry_of_track(
            path, stamps_s, moved_m_s, options, source="positions", notes=(note,)
        )


def _fixes(path: Path) -> Iterator[tuple[float, float, float, float]]:
    """Yield time in s, latitude and longitude in degrees, and speed; NaN where one is missing."""
    data = read_log(path)
    if _DECLARED.search(data):
        raise TelemetryError(f"{path} declares entities, which no track does; export it again")
    try:
        for _, element in ElementTree.iterparse(BytesIO(data)):
            name = _local(element.tag)
            if name == "trkpt":
                yield _fix(element)
            if name in ("trkpt", "trkseg", "wpt", "rtept"):
                element.clear()
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise TelemetryError(
            f"{path} is damaged ({error}); export the track again, or cut its last line"
        ) from error


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _fix(point: ElementTree.Element) -> tuple[float, float, float, float]:
    stamp, speed = None, np.nan
    for element in point.iter():
        name, text = _local(element.tag), (element.text or "").strip()
        if name == "time":
            stamp = iso_seconds(text)
        elif name == "speed":
            speed = finite_number(text)
    latitude, longitude = finite_number(point.get("lat", "")), finite_number(point.get("lon", ""))
    return np.nan if stamp is None else stamp, latitude, longitude, speed


def _speed_of_positions(
    stamps_s: FloatArray, latitude_deg: FloatArray, longitude_deg: FloatArray
) -> FloatArray:
    """Speed at each fix from the fixes beside it, by great circles (the haversine formula)."""
    if stamps_s.size < 2:
        return np.full(stamps_s.size, np.nan)
    before = np.maximum(np.arange(stamps_s.size) - 1, 0)
    after = np.minimum(np.arange(stamps_s.size) + 1, stamps_s.size - 1)
    latitude, longitude = np.radians(latitude_deg), np.radians(longitude_deg)
    half = (
        np.sin(0.5 * (latitude[after] - latitude[before])) ** 2
        + np.cos(latitude[after])
        * np.cos(latitude[before])
        * np.sin(0.5 * (longitude[after] - longitude[before])) ** 2
    )
    distance_m = 2.0 * _EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0)))
    took_s = stamps_s[after] - stamps_s[before]
    speed: FloatArray = np.divide(
        distance_m, took_s, out=np.full(stamps_s.size, np.nan), where=took_s > 0.0
    )
    return speed


def _factor(path: Path, stated: FloatArray, moved_m_s: FloatArray, asked: str | None) -> float:
    """Tell the unit of the stated speeds: m/s by the format, if the positions agree."""
    if asked is not None:
        return asked_unit("speed", "--speed-unit", asked).factor
    moving = np.isfinite(stated) & (moved_m_s > _MOVING_M_S) & (stated > 0.0)
    if moving.sum() < _FEWEST_TO_CHECK:
        return 1.0
    ratio = float(np.median(moved_m_s[moving] / stated[moving]))
    if abs(ratio - 1.0) <= _AGREES:
        return 1.0
    fits = [
        unit.name
        for unit in dict.fromkeys(UNITS["speed"].values())
        if abs(ratio / unit.factor - 1.0) <= _AGREES
    ]
    told = " or ".join(fits) if fits else "m/s, km/h or mph"
    raise TelemetryError(
        f"the speeds in {path} are {1.0 / ratio:.2g} times what its positions tell in m/s; give "
        f"--speed-unit {told}"
    )
