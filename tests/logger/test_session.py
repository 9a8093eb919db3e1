"""A session folder: round trips, is whole or not there, and opens when it was cut short."""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import random
import struct
import tempfile
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.drive import Engine
from logger.errors import AudioError, LoggerError, SessionError
from logger.folder.harmless import is_harmless
from logger.folder.quantities import COLUMNS, FULL_SCALE_DB_SPL, LATEST_S, LIMITS
from logger.session import (
    SessionMetadata,
    SoundOrigin,
    Trouble,
    encode_metadata,
    read_session,
    write_session,
)
from tests.logger.folders import RATE_HZ, files_below, noise, telemetry, write_small_session

DATA_SIZE_AT = 40  # in the 44-byte header of plain PCM
# Of other text a reader leaves out what a terminal would obey; see test_hostile_session.py.
TEXT = st.text(st.characters(codec="utf-8"), max_size=20).filter(is_harmless)
FINITE = st.floats(allow_nan=False, allow_infinity=False)
MOMENTS = st.floats(-LATEST_S, LATEST_S)
OPTIONAL = st.none() | MOMENTS
JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | FINITE | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)
METADATA = st.builds(
    SessionMetadata,
    name=TEXT,
    start_time_utc=st.none()
    | st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1), timezones=st.just(UTC)),
    devices=st.dictionaries(TEXT, TEXT, max_size=2),
    full_scale_db_spl=st.none() | st.floats(*FULL_SCALE_DB_SPL),
    car=st.none() | st.dictionaries(TEXT, JSON, max_size=3),
    cylinders=st.none() | st.integers(1, 16),
    stroke_cycle=st.sampled_from((2, 4)),
    trouble=st.lists(
        st.builds(Trouble, code=TEXT, message=TEXT, start_s=OPTIONAL, duration_s=OPTIONAL),
        max_size=2,
    ).map(tuple),
    notes=st.lists(TEXT, max_size=2).map(tuple),
    software_version=TEXT,
    pickup_channels=st.lists(st.integers(1, 100), max_size=2).map(tuple),
    tail_channel=st.none() | st.integers(1, 100),
    sound_origin=st.none()
    | st.builds(
        SoundOrigin,
        name=TEXT,
        codec=st.just("aac"),
        container=st.just("mov"),
        bit_rate_bps=st.none() | st.integers(0, 10**9),
        start_time_utc=st.none() | st.just(datetime(2024, 6, 8, 10, 5, tzinfo=UTC)),
    ),
)


@st.composite
def frames(draw: st.DrawFn) -> pd.DataFrame:
    times_s = sorted(draw(st.lists(MOMENTS, unique=True, max_size=6)))
    names = draw(st.lists(st.sampled_from(COLUMNS[2:]), unique=True, max_size=3))
    columns = {"time_s": times_s}
    for name in ("rpm", *sorted(names, key=COLUMNS.index)):
        size = len(times_s)
        possible = st.floats(LIMITS[name].low, LIMITS[name].high) | st.just(np.nan)
        columns[name] = draw(st.lists(possible, min_size=size, max_size=size))
    return pd.DataFrame(columns, dtype=np.float64)


@settings(max_examples=30)
@given(metadata=METADATA, frame=frames())
def test_what_was_written_is_read_back(metadata: SessionMetadata, frame: pd.DataFrame) -> None:
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "drive"
        write_session(out, metadata, telemetry=frame)
        session = read_session(out)
    assert session.metadata == metadata
    pd.testing.assert_frame_equal(session.telemetry, frame, check_exact=True)
    assert session.audio_files == ()
    assert session.drive().sound is None


def test_sound_of_several_files_and_channels_is_one_drive(tmp_path: Path) -> None:
    first, second = noise(9.0, 2, seed=1), noise(1.5, 2, seed=2)

    def write_audio(folder: Path) -> None:
        soundfile.write(folder / "audio.wav", first, RATE_HZ, subtype="DOUBLE")
        soundfile.write(folder / "audio-2.wav", second, RATE_HZ, subtype="DOUBLE")

    metadata = SessionMetadata(name="two", cylinders=6, full_scale_db_spl=124.0)
    write_session(tmp_path / "s", metadata, write_audio=write_audio)
    drive = read_session(tmp_path / "s").drive(channel=2)
    assert drive.sound is not None
    assert drive.sound.frame_count == 10.5 * RATE_HZ
    assert drive.sound.full_scale_db_spl == 124.0
    assert drive.engine == Engine(cylinders=6)
    expected = np.concatenate([first[:, 1], second[:, 1]]).astype(np.float32)
    for _ in range(2):  # each call starts again at the first sample
        blocks = list(drive.sound.read_blocks())
        assert all(block.dtype == np.float32 for block in blocks)
        np.testing.assert_array_equal(np.concatenate(blocks), expected)


def test_the_first_channel_that_is_no_pickup_is_the_cabin(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s", channels=3, pickup_channels=(1, 3))
    session = read_session(tmp_path / "s")
    cabin = session.drive().sound
    second = session.drive(channel=2).sound
    assert cabin is not None
    assert second is not None
    assert np.array_equal(next(iter(cabin.read_blocks())), next(iter(second.read_blocks())))
    assert (cabin.channel, cabin.other_channels) == (2, ())
    with pytest.raises(SessionError, match=r"channel 3 .* ignition pickup; choose channel 2"):
        session.drive(channel=3)


def test_the_channel_at_the_tail_is_no_sound_of_the_cabin(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s", channels=3, pickup_channels=(2,), tail_channel=1)
    session = read_session(tmp_path / "s")
    drive = session.drive()
    assert drive.sound is not None
    assert drive.tail is not None
    assert (drive.sound.channel, drive.tail.channel, drive.sound.other_channels) == (3, 1, ())
    as_cabin = session.drive(channel=1)  # to hear what the tail does, on its own
    assert as_cabin.sound is not None
    assert (as_cabin.sound.channel, as_cabin.tail) == (1, None)


def test_a_tail_that_no_file_holds_is_none(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s", channels=1, tail_channel=2)
    assert read_session(tmp_path / "s").drive().tail is None


def test_a_session_of_pickups_alone_has_no_cabin_sound(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s", channels=1, pickup_channels=(1,))
    with pytest.raises(SessionError, match="no sound of the cabin"):
        read_session(tmp_path / "s").drive()


def test_an_engine_given_by_hand_overrules_the_session(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s")
    session = read_session(tmp_path / "s")
    assert session.drive(engine=Engine(cylinders=8)).engine == Engine(cylinders=8)
    with pytest.raises(SessionError, match="choose one of 1 to 2"):
        session.drive(channel=3)


def test_values_that_are_not_finite_are_refused_when_read(tmp_path: Path) -> None:
    samples = noise(2.0, 1)
    samples[5000] = np.nan

    def write_audio(folder: Path) -> None:
        soundfile.write(folder / "audio.wav", samples, RATE_HZ, subtype="FLOAT")

    metadata = SessionMetadata(name="nan")
    write_session(tmp_path / "s", metadata, write_audio=write_audio)
    sound = read_session(tmp_path / "s").drive().sound
    assert sound is not None
    with pytest.raises(AudioError, match="NaN or infinite"):
        list(sound.read_blocks())


@pytest.mark.parametrize("stated", [0, 600, 0xFFFFFFFF])
def test_a_wrong_size_in_the_header_loses_no_sound(tmp_path: Path, stated: int) -> None:
    write_small_session(tmp_path / "s")
    whole = read_session(tmp_path / "s").drive().sound
    file = tmp_path / "s" / "audio.wav"
    data = bytearray(file.read_bytes())
    assert data[36:40] == b"data"
    data[DATA_SIZE_AT : DATA_SIZE_AT + 4] = struct.pack("<I", stated)
    file.write_bytes(data + b"\x7f\x7f\x7f")  # half a frame more
    session = read_session(tmp_path / "s")
    assert [trouble.code for trouble in session.metadata.trouble] == ["interrupted"]
    repaired = session.drive().sound
    assert whole is not None
    assert repaired is not None
    assert repaired.frame_count == whole.frame_count
    np.testing.assert_array_equal(
        np.concatenate(list(repaired.read_blocks())), np.concatenate(list(whole.read_blocks()))
    )


def test_a_chunk_behind_the_sound_is_not_taken_for_sound(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s")
    file = tmp_path / "s" / "audio.wav"
    file.write_bytes(file.read_bytes() + b"LIST" + struct.pack("<I", 10) + b"INFOabcdef")
    session = read_session(tmp_path / "s")
    assert session.metadata.trouble == ()
    assert session.frame_count == 2 * RATE_HZ


def test_a_recording_killed_half_way_opens_and_says_so(tmp_path: Path) -> None:
    out = tmp_path / "s"
    write_small_session(out)
    (out / "session.json").write_bytes(
        encode_metadata(SessionMetadata(name="killed"), state="recording")
    )
    with (out / "telemetry.csv").open("ab") as file:
        file.write(b"0.3,20")
    (out / "audio-2.wav").write_bytes(b"RIFF")
    session = read_session(out)
    assert [trouble.code for trouble in session.metadata.trouble] == ["interrupted"]
    pd.testing.assert_frame_equal(session.telemetry, telemetry())
    assert session.frame_count == 2 * RATE_HZ
    (out / "telemetry.csv").unlink()
    assert len(read_session(out).telemetry.index) == 0


def test_rows_are_put_in_order_and_a_time_that_was_there_already_is_told(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s")
    (tmp_path / "s" / "telemetry.csv").write_text("time_s,rpm\n0,1\n1,2\n1,3\n0.5,4\n2,5\n")
    session = read_session(tmp_path / "s")
    assert session.telemetry["rpm"].tolist() == [1.0, 4.0, 2.0, 5.0]
    assert [trouble.code for trouble in session.metadata.trouble] == ["telemetry_rows_dropped"]


def test_a_newer_format_is_refused_by_its_number(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s")
    file = tmp_path / "s" / "session.json"
    file.write_text(file.read_text().replace('"format_version": 1', '"format_version": 2'))
    with pytest.raises(SessionError, match=r"format 2.*install a newer pipenote"):
        read_session(tmp_path / "s")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("session.json", b""),
        ("session.json", b"[" * 100_000),
        ("session.json", b"[]"),
        ("session.json", b'{"format_version": true}'),
        ("session.json", b'{"format_version": 1, "trouble": [3]}'),
        ("session.json", b'{"format_version": 1, "cylinders": -4}'),
        ("session.json", b'{"format_version": 1, "start_time_utc": "noon"}'),
        ("session.json", b'{"format_version": 1, "calibration": {"full_scale_db_spl": NaN}}'),
        ("session.json", b"\xff\xfe\x00"),
        ("telemetry.csv", b"\xff\xfe\x00\n"),
        ("telemetry.csv", b"time_s,rpm\n0,fast\n"),
        ("telemetry.csv", b"rpm\n1000\n"),
        ("telemetry.csv", b"\n\n,\n"),
        ("audio.wav", b"garbage" * 20),
        ("audio.wav", b"RIFF\0\0\0\0WAVEfmt " + bytes(60)),
    ],
)
def test_garbage_is_refused_in_one_line(tmp_path: Path, name: str, content: bytes) -> None:
    write_small_session(tmp_path / "s")
    (tmp_path / "s" / name).write_bytes(content)
    with pytest.raises(SessionError) as caught:
        read_session(tmp_path / "s")
    assert "\n" not in str(caught.value)


def test_a_mangled_session_raises_nothing_but_its_own_error(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s", seconds=0.05)
    rng = random.Random(4)
    for file in sorted((tmp_path / "s").iterdir()):
        whole = file.read_bytes()
        for _ in range(40):
            cut, mess = rng.randint(0, 400), rng.randbytes(rng.randint(0, 12))
            rest = whole[cut + len(mess) :] if rng.random() < 0.5 else b""
            file.write_bytes(whole[:cut] + mess + rest)
            with suppress(LoggerError):
                sound = read_session(tmp_path / "s").drive().sound
                if sound is not None:
                    list(sound.read_blocks())
        file.write_bytes(whole)


def test_a_folder_that_exists_is_left_as_it_is(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s")
    before = files_below(tmp_path)
    with pytest.raises(SessionError, match="exists already"):
        write_small_session(tmp_path / "s")
    assert files_below(tmp_path) == before


def test_overwrite_replaces_a_session_only(tmp_path: Path) -> None:
    write_small_session(tmp_path / "s")
    write_small_session(tmp_path / "s", overwrite=True, seconds=1.0)
    assert read_session(tmp_path / "s").frame_count == RATE_HZ
    (tmp_path / "s" / "my notes.txt").write_text("keep")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_text("keep")
    (tmp_path / "file").write_text("keep")
    (tmp_path / "link").symlink_to(tmp_path / "s")
    before = files_below(tmp_path)
    for name in ("s", "photos", "file", "link"):
        with pytest.raises(SessionError, match="choose another"):
            write_small_session(tmp_path / name, overwrite=True)
    assert files_below(tmp_path) == before


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt, OSError])
def test_a_failure_leaves_nothing_and_keeps_the_old(
    tmp_path: Path, error: type[BaseException]
) -> None:
    write_small_session(tmp_path / "old")
    before = files_below(tmp_path)

    def write_audio(folder: Path) -> None:
        (folder / "audio.wav").write_bytes(b"half")
        raise error

    metadata = SessionMetadata(name="x")
    for out in (tmp_path / "old", tmp_path / "new" / "deep" / "s"):
        with pytest.raises(SessionError if error is OSError else error):
            write_session(out, metadata, write_audio=write_audio, overwrite=True)
    assert files_below(tmp_path) == before
    assert [path.name for path in tmp_path.iterdir()] == ["old"]


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(SessionError, match="cannot write"):
        write_small_session(tmp_path / "file" / "s")


def test_what_json_cannot_hold_is_refused(tmp_path: Path) -> None:
    metadata = SessionMetadata(name="x", car={"engine": {"built": datetime(2000, 1, 1)}})
    with pytest.raises(SessionError, match="cannot be written as JSON"):
        write_session(tmp_path / "s", metadata)
    assert json.loads(encode_metadata(SessionMetadata(name="x")))["state"] == "complete"
    assert list(tmp_path.iterdir()) == []
