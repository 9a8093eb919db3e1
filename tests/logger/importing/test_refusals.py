"""Bad input: one clear line that says what to do, inputs untouched, nothing left behind."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
import soundfile

from logger.errors import LoggerError, SessionError, TelemetryError
from logger.folder import text_decoding
from logger.importing.import_session import import_session
from logger.importing.request import ImportRequest, TelemetryOptions
from logger.session import read_session
from tests.logger.folders import files_below, noise

COUNTED = "".join(f"{row},900,60\n" for row in range(60))  # seconds, tenths or rows
GOOD = "time_s,rpm,level_a_db\n0,1000,60\n1,1010,61\n2,1020,62\n"


def refused(folder: Path, telemetry: bytes | str, options: TelemetryOptions | None = None) -> str:
    data = telemetry if isinstance(telemetry, bytes) else telemetry.encode()
    (folder / "log.csv").write_bytes(data)
    before = files_below(folder)
    request = ImportRequest(telemetry=(folder / "log.csv",), options=options or TelemetryOptions())
    with pytest.raises(LoggerError) as caught:
        import_session(request, folder / "new" / "s")
    assert files_below(folder) == before
    assert [path.name for path in folder.iterdir()] == ["log.csv"]
    message = str(caught.value)
    assert "\n" not in message
    return message


@pytest.mark.parametrize(
    ("telemetry", "what_to_do"),
    [
        (b"", "is empty; choose another file"),
        (b"\n\n  \r\n", "is empty"),
        (b"\0" * 500, "is empty"),
        (b"PK\x03\x04" + b"x" * 100, "save the table as CSV"),
        (b"RIFF\x10\0\0\0WAVEfmt ", "is a sound file"),
        (bytes(range(256)) * 40, "not a text file"),
        (b"\x89\x00\x07\x1b" * 500, "choose another file|not a text file"),
        (b"1,2" * 50_000, "has a line of more than"),
        (b"hello\nthis is, a letter\nyours, me\n", "no rows of two or more numbers"),
        (b"time_s,rpm,level_a_db\n", "no rows of two or more numbers"),
        (b"time_s,rpm,level_a_db\n0,fast,loud\n1,slow,calm\n", "--rpm-column|two or more numbers"),
        (b"time_s,rpm,level_a_db\n0,fast,60\n1,slow,61\n2,slow,61\n", '"rpm" .* hardly any num'),
        (b"time_s,rpm,level_a_db\nnow,900,60\nthen,910,61\n", '"time_s" .* hardly any numbers'),
        (b"time_s,rpm,level_a_db\n0,nan,60\n1,inf,61\n2,nan,62\n", "--rpm-column"),
        (b"time_s,rpm,level_a_db\n0,1000,60\n", "has 1 usable rows"),
        (b"time_s,rpm,level_a_db\n0,-1,60\n1,16383.75,60\n2,65535,60\n", "a mark for no value"),
        (b"time_s,rpm,level_a_db\n0,1.2,60\n1,1.3,60\n2,1.4,61\n", "no running engine"),
        (b"time_s,rpm\n0,1000\n1,1100\n2,1200\n", "holds no sound level, and there is no sound"),
        (b"\xef\xbb\xbf\xff\xfe\xfd,1\n2,3\n", "give --encoding"),
    ],
)
def test_files_that_are_no_drive(tmp_path: Path, telemetry: bytes, what_to_do: str) -> None:
    assert re.search(what_to_do, refused(tmp_path, telemetry))


@pytest.mark.parametrize(
    ("telemetry", "option", "candidates"),
    [
        ("time,rpm,Engine RPM,LAeq\n0,1,2,3\n1,2,3,4\n", "--rpm-column", ['2 "rpm"', '3 "Engi']),
        ("Device Time,GPS Time,rpm,LAeq\n0,0,900,3\n1,1,900,4\n", "--time-column", ["1 ", "2 "]),
        ("x,y,LAeq\n0,900,3\n1,900,4\n", "--time-column", ['1 "x"', '2 "y"']),
        ("time_s,y,LAeq\n0,900,3\n1,900,4\n", "--rpm-column", ['2 "y"']),
        ("time_s,rpm,level dB\n0,900,3\n1,900,4\n", "--level-weighting", ["level dB", "A, C or Z"]),
        ("time_s,rpm,LAeq,LAF\n0,900,3,3\n1,900,4,4\n", "--level-column", ["LAeq", "LAF"]),
        ("time_s,rpm,LAeq,speed\n0,900,3,3\n1,900,4,4\n", "--speed-unit", ["km/h", "mph"]),
        (
            "time_s,rpm,LAeq,GPS speed (mph),OBD speed (mph)\n0,900,3,3,3\n1,900,4,4,3\n",
            "--speed-column",
            ["GPS speed", "OBD speed"],
        ),
        ("time,rpm,LAeq\n0,900,3\n7,900,4\n14,900,4\n", "--time-unit", ["ms", "min"]),
        ("time,rpm,LAeq\n0,900,3\n.0001,900,4\n.0002,900,4\n", "--time-unit", ["steps of 0.0001"]),
        ("time_s,rpm,LAeq\n0,15,60\n1,16,61\n2,15,60\n", "--rpm-unit", ["(15,000 to 16,000 rpm)"]),
        ("time,rpm,LAeq\n" + COUNTED, "--time-unit", ["last 59 s", "0.1 s"]),
        ("time,rpm,LAeq\n0.0,900,3\n0.5,900,4\n1.0,900,4\n", "--time-unit", ["last 1 s"]),
        ("time,rpm,LAeq\n1,900,3\n1,900,4\n1,900,4\n", "--time-column", ["one time only"]),
        ("0,900,60\n1,910,61\n2,920,62\n", "--time-column", ["no header", "1 to 3"]),
        ('time_s;rpm;LAeq\n0;"1,234";60\n1;"1,235";61\n', "--decimal", ["1,234"]),
        ("time_s;rpm;LAeq\n0;900,5;60.5\n1;900,5;61.5\n", "--decimal", ["comma", "point"]),
        ("time_s,rpm,LAeq\n0,5,900,5,60,5\n0,6,900,5,61,5\n", "semicolons or tabs", ["comma"]),
        ("1,2;3,4\n5,6;7,8\n", "--time-column", ["no header"]),
    ],
)
def test_what_the_file_does_not_decide_is_asked_by_option(
    tmp_path: Path, telemetry: str, option: str, candidates: list[str]
) -> None:
    message = refused(tmp_path, telemetry)
    assert option in message
    for candidate in candidates:
        assert candidate in message


@pytest.mark.parametrize(
    ("options", "named"),
    [
        (TelemetryOptions(rpm_column="revs"), '--rpm-column, one of: 1 "time_s", 2 "rpm"'),
        (TelemetryOptions(rpm_column="9"), "--rpm-column"),
        (TelemetryOptions(rpm_column="none"), "must hold road speed"),
        (TelemetryOptions(time_unit="fortnight"), "--time-unit fortnight"),
        (TelemetryOptions(speed_column="3", speed_unit="warp"), "--speed-unit warp"),
        (TelemetryOptions(level_column="level_a_db", level_weighting="B"), "--level-weighting B"),
        (TelemetryOptions(delimiter="colon"), "--delimiter colon"),
        (TelemetryOptions(delimiter="tab"), "--delimiter"),
        (TelemetryOptions(decimal="dot"), "--decimal dot"),
        (TelemetryOptions(encoding="klingon"), "--encoding klingon"),
        (TelemetryOptions(encoding="base64"), "--encoding base64"),
        (TelemetryOptions(time_offset_s=float("nan")), "--time-offset-s"),
    ],
)
def test_an_option_that_cannot_be_is_named(
    tmp_path: Path, options: TelemetryOptions, named: str
) -> None:
    assert named in refused(tmp_path, GOOD, options)


def test_two_drives_in_one_file_are_not_joined(tmp_path: Path) -> None:
    rows = "".join(f"{index % 50},{1000 + index},60\n" for index in range(100))
    message = refused(tmp_path, "time_s,rpm,LAeq\n" + rows)
    assert "more than one recording" in message
    assert "data row 51" in message


def test_an_enormous_file_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(text_decoding, "LARGEST_FILE_BYTES", 20)
    assert "cut it to the drive" in refused(tmp_path, GOOD)


def make_sound(path: Path, seconds: float = 5.0) -> Path:
    soundfile.write(path, noise(seconds, 1), 8000, subtype="PCM_16")
    return path


@pytest.mark.parametrize("first_s", [70.0, -100.0])
def test_telemetry_of_another_time_is_refused(tmp_path: Path, first_s: float) -> None:
    sound = make_sound(tmp_path / "a.wav")
    log = tmp_path / "a.csv"
    log.write_text(f"time_s,rpm\n{first_s},900\n{first_s + 1},900\n{first_s + 2},900\n")
    request = ImportRequest(audio=(sound,), telemetry=(log,))
    with pytest.raises(TelemetryError, match=r"do not overlap.*--time-offset-s"):
        import_session(request, tmp_path / "s")
    moved = ImportRequest(
        audio=(sound,), telemetry=(log,), options=TelemetryOptions(time_offset_s=1.0 - first_s)
    )
    import_session(moved, tmp_path / "s")
    np.testing.assert_allclose(read_session(tmp_path / "s").telemetry["time_s"], [1.0, 2.0, 3.0])


def test_a_unit_that_only_the_steps_tell_must_fit_the_sound(tmp_path: Path) -> None:
    """A log in tenths of a second without a unit looks like one in seconds."""
    sound = make_sound(tmp_path / "a.wav", seconds=12.0)
    log = tmp_path / "a.csv"
    log.write_text("time,rpm\n" + "".join(f"{at},{900 + at}\n" for at in range(120)))
    request = ImportRequest(audio=(sound,), telemetry=(log,))
    with pytest.raises(TelemetryError, match=r"last 119 s and the sound 12 s: give --time-unit"):
        import_session(request, tmp_path / "s")
    for unit, last_s in (("0.1 s", 11.9), ("s", 119.0)):
        told = ImportRequest(
            audio=(sound,), telemetry=(log,), options=TelemetryOptions(time_unit=unit)
        )
        import_session(told, tmp_path / "s", overwrite=True)
        assert read_session(tmp_path / "s").telemetry["time_s"].iloc[-1] == pytest.approx(last_s)


def test_the_output_and_its_place(tmp_path: Path) -> None:
    log = tmp_path / "a.csv"
    log.write_text(GOOD)
    request = ImportRequest(telemetry=(log,))
    import_session(request, tmp_path / "s")
    before = files_below(tmp_path)
    with pytest.raises(SessionError, match=r"exists already.*--overwrite"):
        import_session(request, tmp_path / "s")
    with pytest.raises(SessionError, match="cannot write"):
        import_session(request, log / "s")
    inside = ImportRequest(telemetry=(tmp_path / "s" / "telemetry.csv",))
    with pytest.raises(SessionError, match="lies inside"):
        import_session(inside, tmp_path / "s", overwrite=True)
    assert files_below(tmp_path) == before
    assert import_session(request, tmp_path / "s", overwrite=True).telemetry_rows == 3


@pytest.mark.parametrize(
    "name", ["<b>loud</b> & <script>", "3rd/4th gear", "Überlandfahrt 5. Gang"]
)
def test_any_text_may_be_a_name(tmp_path: Path, name: str) -> None:
    (tmp_path / "a.csv").write_text(GOOD)
    request = ImportRequest(telemetry=(tmp_path / "a.csv",), name=name)
    assert import_session(request, tmp_path / "s").name == name
    assert read_session(tmp_path / "s").metadata.name == name


@pytest.mark.parametrize("name", ["", "  ", "two\nlines", "bell\a", "x" * 201, "\ud800"])
def test_a_name_nobody_can_read_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "a.csv").write_text(GOOD)
    with pytest.raises(SessionError, match="--name"):
        import_session(ImportRequest(telemetry=(tmp_path / "a.csv",), name=name), tmp_path / "s")


CAR = {"engine": {"cylinders": 8, "stroke_cycle": 4}}


@pytest.mark.parametrize(
    ("cylinders", "stroke_cycle", "car", "said"),
    [
        (0, None, None, "--cylinders must be 1 to 16"),
        (6, None, CAR, "--cylinders 6 contradicts the car file, which says 8"),
        (None, 2, CAR, "--stroke-cycle 2 contradicts"),
        (None, 3, None, "stroke cycle must be 2 or 4"),
    ],
)
def test_an_engine_that_cannot_be(
    tmp_path: Path,
    cylinders: int | None,
    stroke_cycle: int | None,
    car: Mapping[str, object] | None,
    said: str,
) -> None:
    (tmp_path / "a.csv").write_text(GOOD)
    request = ImportRequest(
        telemetry=(tmp_path / "a.csv",), cylinders=cylinders, stroke_cycle=stroke_cycle, car=car
    )
    with pytest.raises(SessionError, match=said):
        import_session(request, tmp_path / "s")


def test_cylinders_come_from_the_car_file(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(GOOD)
    import_session(ImportRequest(telemetry=(tmp_path / "a.csv",), car=CAR), tmp_path / "s")
    metadata = read_session(tmp_path / "s").metadata
    assert (metadata.cylinders, metadata.stroke_cycle, metadata.car) == (8, 4, CAR)


def test_files_that_are_not_there(tmp_path: Path) -> None:
    with pytest.raises(SessionError, match="give --audio, --telemetry or both"):
        import_session(ImportRequest(), tmp_path / "s")
    for request in (
        ImportRequest(audio=(tmp_path / "no.wav",)),
        ImportRequest(telemetry=(tmp_path / "no.csv",)),
        ImportRequest(telemetry=(tmp_path,)),
    ):
        with pytest.raises(LoggerError, match="there is no file"):
            import_session(request, tmp_path / "s")
    assert list(tmp_path.iterdir()) == []
