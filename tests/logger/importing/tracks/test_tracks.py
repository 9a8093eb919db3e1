"""GPX and NMEA 0183: road speed in m/s, the start in UTC, no rpm.

The truth is a car that drives north: one minute of latitude is a nautical mile of 1852 m (by
definition within 0.5 %), so its speed follows from its positions by hand.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import random
from datetime import UTC, datetime, timedelta
from functools import reduce
from pathlib import Path

import numpy as np
import pytest
import soundfile

from logger.errors import TelemetryError
from logger.importing.import_session import import_session
from logger.importing.plugins import check_telemetry, read_telemetry_file
from logger.importing.request import ImportedTelemetry, ImportRequest, TelemetryOptions
from logger.session import read_session
from tests.logger.folders import noise

START = datetime(2025, 6, 8, 21, 59, 50, tzinfo=UTC)
SPEED_M_S = 10.0 + 0.5 * np.arange(40)
NORTH_M = np.concatenate(([0.0], np.cumsum(0.5 * (SPEED_M_S[1:] + SPEED_M_S[:-1]))))
LATITUDE_DEG = 48.0 + NORTH_M / 1852.0 / 60.0


def gpx(*, speeds: float | None = None, version: str = "1/1", stamps: bool = True) -> str:
    points = []
    for at, (latitude, speed) in enumerate(zip(LATITUDE_DEG, SPEED_M_S, strict=True)):
        stamp = (START + timedelta(seconds=at)).strftime("%Y-%m-%dT%H:%M:%SZ")
        told = "" if speeds is None else f"<extensions><speed>{speeds * speed}</speed></extensions>"
        time = f"<time>{stamp}</time>" if stamps else ""
        points.append(f'<trkpt lat="{latitude:.9f}" lon="11.5"><ele>500</ele>{time}{told}</trkpt>')
    return (
        f'<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/{version}"><trk><trkseg>'
        + "\n".join(points)
        + "</trkseg></trk></gpx>"
    )


def sentence(body: str) -> str:
    total = reduce(lambda sum_, sign: sum_ ^ ord(sign), body, 0)
    return f"${body}*{total:02X}"


def nmea(kinds: tuple[str, ...] = ("RMC", "GGA", "VTG")) -> str:
    lines = []
    for at, (latitude, speed) in enumerate(zip(LATITUDE_DEG, SPEED_M_S, strict=True)):
        moment = START + timedelta(seconds=at)
        clock, day = moment.strftime("%H%M%S.00"), moment.strftime("%d%m%y")
        where = f"48{60 * (latitude - 48):08.5f},N,01130.00000,E"
        knots = f"{speed * 3600 / 1852:.5f}"
        bodies = {
            "RMC": f"GPRMC,{clock},A,{where},{knots},0.0,{day},,,A",
            "GGA": f"GPGGA,{clock},{where},1,08,1.0,500.0,M,0.0,M,,",
            "VTG": f"GPVTG,0.0,T,,M,{knots},N,{3.6 * speed:.4f},K,A",
        }
        lines += [sentence(bodies[kind]) for kind in kinds]
    return "\r\n".join([*lines, ""])


def read(folder: Path, content: str | bytes, **options: str) -> ImportedTelemetry:
    path = folder / "track"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    asked = TelemetryOptions(speed_unit=options.get("speed_unit"))
    got = read_telemetry_file(path, asked, importer=options.get("importer"), installed=())
    check_telemetry("track", got)
    return got


def agrees(got: ImportedTelemetry, tolerance: float = 1e-5) -> None:
    assert list(got.frame.columns) == ["time_s", "road_speed_m_s"]
    np.testing.assert_allclose(got.frame["time_s"], np.arange(SPEED_M_S.size))
    inner = slice(1, -1)  # at its ends a track of positions tells half a step less
    np.testing.assert_allclose(got.frame["road_speed_m_s"][inner], SPEED_M_S[inner], rtol=tolerance)


@pytest.mark.parametrize("version", ["1/0", "1/1"])
def test_a_track_that_tells_its_speed(tmp_path: Path, version: str) -> None:
    got = read(tmp_path, gpx(speeds=1.0, version=version))
    agrees(got)
    assert got.start == START


def test_a_track_of_positions_alone(tmp_path: Path) -> None:
    got = read(tmp_path, gpx())
    agrees(got, tolerance=0.005)
    assert "distance between its positions" in " ".join(got.notes)


def test_speeds_that_are_not_what_the_positions_tell_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(TelemetryError, match=r"3\.6 times .* --speed-unit km/h"):
        read(tmp_path, gpx(speeds=3.6))
    agrees(read(tmp_path, gpx(speeds=3.6), speed_unit="km/h"))


@pytest.mark.parametrize("kinds", [("RMC",), ("RMC", "GGA", "VTG"), ("GGA", "RMC")])
def test_sentences_of_a_receiver(tmp_path: Path, kinds: tuple[str, ...]) -> None:
    got = read(tmp_path, nmea(kinds))
    agrees(got)
    assert got.start == START


def test_a_receiver_without_rmc_and_a_logger_that_puts_its_own_time_first(tmp_path: Path) -> None:
    agrees(read(tmp_path, nmea(("GGA", "VTG"))))
    stamped = "".join(f"[12:00:01] {line}\r\n" for line in nmea().splitlines())
    agrees(read(tmp_path, stamped))


def test_midnight_in_sentences_without_a_date(tmp_path: Path) -> None:
    late = (
        nmea(("GGA", "VTG")).replace("GPGGA,2159", "GPGGA,2359").replace("GPGGA,2200", "GPGGA,0000")
    )
    lines = [line[1 : line.rindex("*")] for line in late.splitlines()]
    agrees(read(tmp_path, "\n".join([*map(sentence, lines), ""])))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (gpx(stamps=False), "0 fixes with a time"),
        (gpx()[:-400], "is damaged"),
        ('<!DOCTYPE x [<!ENTITY a "b">]>' + gpx(), "declares entities"),
        (gpx().split("<trkpt")[0] + "</trkseg></trk></gpx>", "0 fixes"),
        (nmea(("VTG",)), "0 fixes"),
        (nmea() + nmea(), "more than one recording"),
    ],
    ids=["no times", "cut", "entities", "empty", "no clock", "twice"],
)
def test_what_is_no_track_is_one_line(tmp_path: Path, content: str, told: str) -> None:
    with pytest.raises(TelemetryError, match=told) as refusal:
        read(tmp_path, content)
    assert "\n" not in str(refusal.value)


def test_tracks_with_bytes_changed(tmp_path: Path) -> None:
    rng = random.Random(5)
    for whole in (gpx(speeds=1.0).encode(), gpx().encode("utf-16"), nmea().encode()):
        for _ in range(80):
            content = bytearray(whole)
            for _ in range(rng.randint(1, 4)):
                at = rng.randint(0, len(content))
                content[at : at + rng.randint(0, 9)] = rng.randbytes(rng.randint(0, 9))
            message = ""
            try:
                read(tmp_path, bytes(content))
            except TelemetryError as refusal:
                message = str(refusal)
            assert "\n" not in message


def test_sound_with_a_track_is_a_session_with_its_start(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", noise(5.0, 1), 8000, subtype="PCM_16")
    (tmp_path / "a.gpx").write_text(gpx(speeds=1.0))
    request = ImportRequest(audio=(tmp_path / "a.wav",), telemetry=(tmp_path / "a.gpx",))
    import_session(request, tmp_path / "s")
    session = read_session(tmp_path / "s")
    assert session.metadata.start_time_utc == START
    assert session.telemetry["rpm"].isna().all()
    np.testing.assert_allclose(session.telemetry["road_speed_m_s"], SPEED_M_S)
