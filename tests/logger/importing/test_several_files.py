"""One drive in several files: a recording in parts, a log in halves, rpm here and speed there."""
# SPDX-License-Identifier: GPL-2.0-or-later

from datetime import UTC, datetime, timedelta
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from logger.errors import LoggerError, TelemetryError
from logger.importing.import_session import import_session
from logger.importing.request import ImportRequest, ImportSummary
from logger.session import read_session
from tests.logger.folders import noise

RATE_HZ = 8000
WHOLE = np.round(noise(9.0, 1) * 20_000).astype(np.int16)


def parts(folder: Path, *lengths_s: float) -> tuple[Path, ...]:
    """Cut one recording into files, as a phone does."""
    paths, start = [], 0
    for at, length_s in enumerate(lengths_s):
        end = start + int(length_s * RATE_HZ)
        paths.append(folder / f"memo {at + 1}.wav")
        soundfile.write(paths[-1], WHOLE[start:end], RATE_HZ, subtype="PCM_16")
        start = end
    return tuple(paths)


def heard(folder: Path) -> np.ndarray:
    blocks = [soundfile.read(file, dtype="int16")[0] for file in read_session(folder).audio_files]
    return np.concatenate(blocks)


def test_parts_of_one_recording_are_joined_sample_by_sample(tmp_path: Path) -> None:
    done: list[float] = []
    summary = import_session(
        ImportRequest(audio=parts(tmp_path, 2.0, 3.0, 1.5)), tmp_path / "s", progress=done.append
    )
    np.testing.assert_array_equal(heard(tmp_path / "s"), WHOLE[: int(6.5 * RATE_HZ), 0])
    assert summary.sound is not None
    assert summary.sound.duration_s == 6.5
    assert done == sorted(done)
    assert done[-1] == pytest.approx(1.0)
    assert any("joined in this order, without a gap" in note for note in summary.notes)
    assert read_session(tmp_path / "s").metadata.devices["sound"] == (
        "memo 1.wav, memo 2.wav, memo 3.wav"
    )


def test_files_that_are_no_parts_of_one_recording_are_refused(tmp_path: Path) -> None:
    first = parts(tmp_path, 2.0)[0]
    soundfile.write(tmp_path / "other.wav", noise(2.0, 2), RATE_HZ, subtype="PCM_16")
    request = ImportRequest(audio=(first, tmp_path / "other.wav"))
    with pytest.raises(LoggerError, match="differ in sample rate"):
        import_session(request, tmp_path / "s")
    assert not (tmp_path / "s").exists()


BEGAN = datetime(2025, 6, 8, 10, 5, tzinfo=UTC)


def memo(path: Path, seconds: float, began: datetime) -> Path:
    """Write a memo as a phone does, with the moment at which it was made."""
    with av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as container:
        container.metadata["creation_time"] = began.isoformat()
        stream = container.add_stream("aac", rate=44_100, layout="mono")
        size = int(seconds * 44_100)
        tone = (0.1 * np.sin(np.arange(size) / 20.0)).astype(np.float32)[np.newaxis]
        frame = av.AudioFrame.from_ndarray(tone, format="fltp", layout="mono")
        frame.sample_rate = 44_100
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            container.mux(packet)
    return path


@pytest.mark.parametrize(
    ("apart_s", "told"),
    [(4.0, "without a gap"), (10.0, "6 s missing"), (1.0, "refused"), (9000.0, "refused")],
)
def test_the_memos_own_times_tell_what_is_missing(
    tmp_path: Path, apart_s: float, told: str
) -> None:
    first = memo(tmp_path / "1.m4a", 4.0, BEGAN)
    second = memo(tmp_path / "2.m4a", 4.0, BEGAN + timedelta(seconds=apart_s))
    request = ImportRequest(audio=(first, second))
    if told == "refused":
        with pytest.raises(LoggerError, match="no parts of one recording"):
            import_session(request, tmp_path / "s")
        return
    summary = import_session(request, tmp_path / "s")
    assert any(told in note for note in summary.notes)
    session = read_session(tmp_path / "s")
    gaps = session.metadata.sound_gaps
    assert [round(gap.duration_s) for gap in gaps] == ([6] if "6" in told else [])
    assert session.metadata.start_time_utc == BEGAN


ROWS = [(0.5 * at, 900.0 + 10.0 * at, 36.0 + at) for at in range(20)]


def write(path: Path, head: str, rows: list[str]) -> Path:
    path.write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    return path


def joined(folder: Path, *logs: Path, offsets: tuple[float, ...] = ()) -> ImportSummary:
    sound = folder / "cabin.wav"
    soundfile.write(sound, noise(12.0, 1), RATE_HZ, subtype="PCM_16")
    request = ImportRequest(audio=(sound,), telemetry=logs, time_offsets_s=offsets)
    return import_session(request, folder / "s", overwrite=True)


def agrees(folder: Path) -> None:
    got = read_session(folder / "s").telemetry
    rpm = got[["time_s", "rpm"]].dropna()
    np.testing.assert_allclose(rpm["time_s"] - rpm["time_s"].iloc[0], [t for t, _, _ in ROWS])
    np.testing.assert_allclose(rpm["rpm"], [n for _, n, _ in ROWS])


def halves(folder: Path, stamp: str) -> tuple[Path, Path]:
    lines = []
    for t, n, _ in ROWS:
        moment = BEGAN + timedelta(seconds=t)
        told = f"{t:.1f}" if stamp == "s" else moment.strftime(stamp)
        lines.append(f"{told},{n:g}")
    head = "Time,RPM" if stamp != "s" else "Time (s),RPM"
    return write(folder / "a.csv", head, lines[:12]), write(folder / "b.csv", head, lines[12:])


@pytest.mark.parametrize(
    ("stamp", "how"),
    [
        ("s", "by their times, which go on"),
        ("%Y-%m-%d %H:%M:%S.%f", "by their dates"),
        ("%H:%M:%S.%f", "by their clocks"),
    ],
)
def test_a_log_in_two_halves(tmp_path: Path, stamp: str, how: str) -> None:
    a, b = halves(tmp_path, stamp)
    for logs in ((a, b), (b, a)):
        summary = joined(tmp_path, *logs)
        agrees(tmp_path)
        assert any(how in note for note in summary.notes)


def test_halves_that_both_begin_at_zero_are_asked_about(tmp_path: Path) -> None:
    a = write(tmp_path / "a.csv", "Time (s),RPM", [f"{t},{n}" for t, n, _ in ROWS[:12]])
    b = write(tmp_path / "b.csv", "Time (s),RPM", [f"{t - 6},{n}" for t, n, _ in ROWS[12:]])
    with pytest.raises(TelemetryError, match=r"a\.csv at 0 s and b\.csv at 0 s.*--time-offset-s"):
        joined(tmp_path, a, b)
    joined(tmp_path, a, b, offsets=(0.0, 6.0))
    agrees(tmp_path)
    with pytest.raises(TelemetryError, match="3 numbers for 2 telemetry files"):
        joined(tmp_path, a, b, offsets=(0.0, 6.0, 7.0))


def test_rpm_in_one_log_and_road_speed_in_another(tmp_path: Path) -> None:
    stamps = [(BEGAN + timedelta(seconds=t)).isoformat() for t, _, _ in ROWS]
    rpm = [f"{stamp},{n}" for stamp, (_, n, _) in zip(stamps, ROWS, strict=True)]
    a = write(tmp_path / "a.csv", "Time,RPM", rpm)
    points = "".join(
        f'<trkpt lat="48" lon="11"><time>{stamp}</time><speed>{v / 3.6:.6f}</speed></trkpt>'
        for stamp, (_, _, v) in zip(stamps[4:], ROWS[4:], strict=True)
    )
    track = tmp_path / "b.gpx"
    track.write_text(f'<gpx xmlns="http://www.topografix.com/GPX/1/0">{points}</gpx>')
    joined(tmp_path, a, track)
    agrees(tmp_path)
    got = read_session(tmp_path / "s").telemetry[["time_s", "road_speed_m_s"]].dropna()
    np.testing.assert_allclose(got["time_s"], [t for t, _, _ in ROWS[4:]])
    np.testing.assert_allclose(got["road_speed_m_s"] * 3.6, [v for _, _, v in ROWS[4:]], rtol=1e-5)


def test_of_two_logs_with_rpm_the_one_named_first_counts_and_it_is_told(tmp_path: Path) -> None:
    a = write(tmp_path / "a.csv", "Time (s),RPM", [f"{t},{n}" for t, n, _ in ROWS])
    other = [f"{t + 0.1},{2 * n},{v}" for t, n, v in ROWS[:-1]]
    b = write(tmp_path / "b.csv", "Time (s),RPM,Speed (km/h)", other)
    summary = joined(tmp_path, a, b, offsets=(0.0, 0.0))
    agrees(tmp_path)
    assert any("b.csv holds rpm for a time" in note for note in summary.notes)
    assert read_session(tmp_path / "s").telemetry["road_speed_m_s"].notna().sum() == len(other)


def test_logs_of_two_days_are_not_one_drive(tmp_path: Path) -> None:
    a, b = halves(tmp_path, "%Y-%m-%d %H:%M:%S.%f")
    b.write_text(b.read_text().replace("2025-06-08", "2025-06-09"))
    with pytest.raises(TelemetryError, match=r"hours lie between a\.csv and b\.csv"):
        joined(tmp_path, a, b)
