"""Two recorders in one drive, on two clocks: the second becomes a channel on the first one's.

The truth is a sound of known offset and pace, made here: a sweep of an engine's orders with the
noise of each recorder and another path to it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, sosfilt

from logger.errors import LoggerError
from logger.importing.import_session import import_session
from logger.importing.request import ImportRequest, ImportSummary
from logger.importing.sound_alignment import align
from logger.session import read_session
from tests.drives import DriveSpec, generate
from tests.drives.spec import TailMicrophone

RATE_HZ = 8000
LENGTH_S = 40.0
OFFSET_S, PACE = 3.3217, 1.0 + 45e-6  # of the second clock at the first one's start, and its pace


def heard(time_s: np.ndarray) -> np.ndarray:
    """Sound of the engine at any moments: orders that rise and fall, and its bursts of noise."""
    sweeps = 12.0 * np.sin(0.21 * time_s) / 0.21 + 7.0 * np.sin(0.34 * time_s + 1.0) / 0.34
    turns = 2 * np.pi * (28.0 * time_s + sweeps)
    swell = 0.4 + 0.3 * np.sin(0.9 * time_s) * np.sin(0.37 * time_s + 1.0)
    sound = np.zeros(time_s.size)
    for order in (0.5, 1.0, 1.5, 2.0, 3.0):
        sound += 0.08 * swell * np.sin(order * turns + order**2) / order
    return sound


def recorders(
    folder: Path, *, rate_hz: int = RATE_HZ, subtype: str = "PCM_16", has_path: bool = False
) -> tuple[Path, Path]:
    """Write both; ``has_path`` lets the sound reach the second one coloured, and so delayed."""
    rng = np.random.default_rng(7)
    cabin_s = np.arange(int(LENGTH_S * RATE_HZ)) / RATE_HZ
    tail_s = np.arange(int((LENGTH_S + 5.0) * rate_hz)) / rate_hz
    cabin = heard(cabin_s) + 0.004 * rng.standard_normal(cabin_s.size)
    tail = heard((tail_s - OFFSET_S) / PACE)
    if has_path:
        tail = sosfilt(butter(1, [50.0, 900.0], "band", fs=rate_hz, output="sos"), tail)
    soundfile.write(folder / "cabin.wav", cabin, RATE_HZ, subtype="PCM_16")
    noise = 0.004 * rng.standard_normal(tail_s.size)
    soundfile.write(folder / "tail.wav", tail + noise, rate_hz, subtype=subtype)
    return folder / "cabin.wav", folder / "tail.wav"


def imported(folder: Path, cabin: Path, tail: Path) -> ImportSummary:
    return import_session(ImportRequest(audio=(cabin,), second_audio=tail), folder / "s")


@pytest.mark.parametrize(
    ("rate_hz", "subtype"), [(RATE_HZ, "PCM_16"), (11_025, "FLOAT"), (22_050, "PCM_24")]
)
def test_the_second_recorder_is_laid_on_the_firsts_clock(
    tmp_path: Path, rate_hz: int, subtype: str
) -> None:
    cabin, tail = recorders(tmp_path, rate_hz=rate_hz, subtype=subtype)
    summary = imported(tmp_path, cabin, tail)
    session = read_session(tmp_path / "s")
    assert session.channel_count == 2
    (file,) = session.audio_files
    both, rate = soundfile.read(file, dtype="float64")
    assert (rate, both.shape[0]) == (RATE_HZ, int(LENGTH_S * RATE_HZ))
    np.testing.assert_allclose(both[:, 0], soundfile.read(cabin)[0], atol=1e-9)
    true = heard(np.arange(both.shape[0]) / RATE_HZ)
    inside = slice(RATE_HZ, -RATE_HZ)
    left = np.sqrt(np.mean((both[:, 1] - true)[inside] ** 2))
    assert left < 0.006  # the recorder's noise is 0.004
    assert any("tail.wav became channel 2" in note for note in summary.notes)
    assert session.metadata.devices["sound"] == "cabin.wav, tail.wav"


def test_the_second_recorder_can_be_the_microphone_at_the_tail(tmp_path: Path) -> None:
    cabin, tail = recorders(tmp_path)
    asked = ImportRequest(audio=(cabin,), second_audio=tail, tail_channel=2)
    import_session(asked, tmp_path / "s")
    drive = read_session(tmp_path / "s").drive()
    assert drive.sound is not None
    assert drive.tail is not None
    assert (drive.sound.channel, drive.tail.channel) == (1, 2)


@pytest.mark.parametrize(
    ("second", "channel", "said"),
    [
        (False, 1, "--tail-channel goes with sound of two channels.*--second-audio"),
        (True, 3, "--tail-channel must be one of 1 to 2, got 3"),
    ],
)
def test_a_tail_that_is_not_there_is_refused(
    tmp_path: Path, second: bool, channel: int, said: str
) -> None:
    cabin, tail = recorders(tmp_path)
    asked = ImportRequest(
        audio=(cabin,), second_audio=tail if second else None, tail_channel=channel
    )
    with pytest.raises(LoggerError, match=said):
        import_session(asked, tmp_path / "s")
    assert not (tmp_path / "s").exists()


@pytest.mark.parametrize(("has_path", "within_s"), [(False, 5e-4), (True, 4e-3)])
def test_offset_and_pace_are_found(tmp_path: Path, has_path: bool, within_s: float) -> None:
    """Half a millisecond is 0.17 m of air, less than anyone knows of where the microphones were.

    The path's own delay is 3 ms at 50 Hz, and no sound tells it from the clock's.
    """
    cabin, tail = recorders(tmp_path, has_path=has_path)
    found = align(soundfile.read(cabin)[0], soundfile.read(tail)[0], RATE_HZ)
    assert found is not None
    time_s = np.linspace(0.0, LENGTH_S, 5)
    lies_s = found.offset_s + found.pace * time_s
    np.testing.assert_allclose(lies_s, OFFSET_S + PACE * time_s, atol=within_s)


def test_loudness_that_the_road_drowns_in_the_cabin_is_not_needed() -> None:
    """A generated drive: what is heard in the cabin swells with road and wind, at the tail not."""
    made, other = (generate(DriveSpec(tail=TailMicrophone()), seed) for seed in (5, 6))
    assert made.tail_samples is not None
    assert other.tail_samples is not None
    cabin = made.samples.astype(np.float64)
    tail = np.concatenate([np.zeros(int(1.5 * RATE_HZ)), made.tail_samples])
    found = align(cabin, tail, RATE_HZ)
    assert found is not None
    assert abs(found.offset_s - 1.505) < 5e-4  # with the 5 ms of air to the tail
    assert align(cabin, tail[::-1], RATE_HZ) is None
    assert align(cabin, other.tail_samples.astype(np.float64), RATE_HZ) is None


def test_sounds_of_two_drives_are_not_laid_on_each_other(tmp_path: Path) -> None:
    cabin, tail = recorders(tmp_path)
    backward = soundfile.read(tail)[0][::-1]
    soundfile.write(tail, backward, RATE_HZ, subtype="PCM_16")
    with pytest.raises(LoggerError, match="cannot be laid on one clock by their sound"):
        imported(tmp_path, cabin, tail)
    assert not (tmp_path / "s").exists()
    rng = np.random.default_rng(3)
    quiet = np.zeros(20 * RATE_HZ)
    for other in (quiet, 0.1 * rng.standard_normal(20 * RATE_HZ)):
        assert align(soundfile.read(cabin)[0], other, RATE_HZ) is None
        assert align(other, quiet, RATE_HZ) is None


def test_two_recorders_given_as_parts_are_noticed(tmp_path: Path) -> None:
    cabin, tail = recorders(tmp_path)
    with pytest.raises(LoggerError, match=r"same drive at the same time.*--second-audio tail\.wav"):
        import_session(ImportRequest(audio=(cabin, tail)), tmp_path / "s")


def test_silence_where_the_second_did_not_record_is_told(tmp_path: Path) -> None:
    cabin, tail = recorders(tmp_path)
    whole = soundfile.read(tail)[0]
    soundfile.write(tail, whole[: int(25.0 * RATE_HZ)], RATE_HZ, subtype="PCM_16")
    summary = imported(tmp_path, cabin, tail)
    assert any("silent but from 0.0 to 21.7 s" in note for note in summary.notes)
    both = soundfile.read(read_session(tmp_path / "s").audio_files[0])[0]
    assert not both[int(22.0 * RATE_HZ) :, 1].any()
    assert both[int(22.0 * RATE_HZ) :, 0].any()


def test_a_second_recorder_alone_or_with_a_calibration_is_refused(tmp_path: Path) -> None:
    cabin, tail = recorders(tmp_path)
    with pytest.raises(LoggerError, match="give --audio too"):
        import_session(ImportRequest(second_audio=tail, telemetry=(tail,)), tmp_path / "s")
    calibrated = ImportRequest(audio=(cabin,), second_audio=tail, full_scale_db_spl=120.0)
    with pytest.raises(LoggerError, match="is of one recorder"):
        import_session(calibrated, tmp_path / "s")
