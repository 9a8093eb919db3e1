"""Sound comes into a session with the same rate, depth, channels and samples."""
# SPDX-License-Identifier: GPL-2.0-or-later

import struct
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from logger.errors import AudioError, SessionError
from logger.folder.sound_reading import block_frames
from logger.importing.import_session import import_session
from logger.importing.request import ImportRequest
from logger.importing.sound_file import look_at_sound, write_sound
from logger.session import read_session
from tests.logger.folders import noise

KINDS = [
    ("WAV", "PCM_U8", 8000, 1, 8),
    ("WAV", "PCM_16", 44_100, 1, 16),
    ("WAV", "PCM_24", 48_000, 2, 24),
    ("WAV", "PCM_32", 96_000, 1, 32),
    ("WAV", "FLOAT", 47_999, 3, 32),
    ("WAV", "DOUBLE", 8000, 1, 64),
    ("WAVEX", "PCM_24", 48_000, 4, 24),
    ("FLAC", "PCM_S8", 8000, 1, 8),
    ("FLAC", "PCM_16", 44_100, 2, 16),
    ("FLAC", "PCM_24", 192_000, 1, 24),
    ("AIFF", "PCM_24", 48_000, 1, 24),
    ("RF64", "PCM_16", 48_000, 2, 16),
]


def make_sound(path: Path, kind: tuple[str, str, int, int, int], seconds: float = 1.25) -> None:
    container, subtype, rate, channels, _ = kind
    frames = int(seconds * rate)
    samples = np.random.default_rng(3).uniform(-0.9, 0.9, (frames, channels))
    soundfile.write(path, samples, rate, subtype=subtype, format=container)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: "-".join(map(str, kind)))
def test_every_kind_keeps_rate_depth_channels_and_samples(
    tmp_path: Path, kind: tuple[str, str, int, int, int]
) -> None:
    source = tmp_path / "cabin.sound"
    make_sound(source, kind)
    before = source.read_bytes()
    done: list[float] = []
    summary = import_session(
        ImportRequest(audio=(source,)), tmp_path / "s", progress=lambda part: done.append(part)
    )
    _, _, rate, channels, bits = kind
    assert summary.sound is not None
    assert summary.sound.sample_rate_hz == rate
    assert summary.sound.bit_depth == bits
    assert summary.sound.channel_count == channels
    assert summary.sound.duration_s == pytest.approx(1.25, abs=1.0 / rate)
    assert done == sorted(done)
    assert done[-1] == 1.0
    assert source.read_bytes() == before
    copy = tmp_path / "s" / "audio.wav"
    expected, _ = soundfile.read(source, always_2d=True)
    got, got_rate = soundfile.read(copy, always_2d=True)
    assert got_rate == rate
    np.testing.assert_array_equal(got, expected)
    assert bits == read_back_bits(copy)


def read_back_bits(path: Path) -> int:
    subtype = soundfile.info(str(path)).subtype
    return {"PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "DOUBLE": 64}.get(subtype, 32)


def test_a_plain_wav_is_copied_byte_by_byte(tmp_path: Path) -> None:
    source = tmp_path / "a.wav"
    make_sound(source, KINDS[2])
    import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    assert (tmp_path / "s" / "audio.wav").read_bytes() == source.read_bytes()


@pytest.mark.parametrize("kind", [KINDS[4], KINDS[6], KINDS[8]], ids=["float", "wavex", "flac"])
def test_one_channel_of_many_can_be_kept(
    tmp_path: Path, kind: tuple[str, str, int, int, int]
) -> None:
    source = tmp_path / "many.sound"
    make_sound(source, kind)
    import_session(ImportRequest(audio=(source,), channel=2), tmp_path / "s")
    session = read_session(tmp_path / "s")
    assert session.channel_count == 1
    expected, _ = soundfile.read(source, always_2d=True)
    got, _ = soundfile.read(session.audio_files[0])
    np.testing.assert_array_equal(got, expected[:, 1])


def test_a_wav_whose_writer_was_killed_is_taken_whole_and_told(tmp_path: Path) -> None:
    source = tmp_path / "killed.wav"
    make_sound(source, KINDS[1])
    expected, _ = soundfile.read(source)
    data = bytearray(source.read_bytes())
    data[40:44] = struct.pack("<I", 0)
    source.write_bytes(data)
    summary = import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    assert any("does not fit its length" in note for note in summary.notes)
    session = read_session(tmp_path / "s")
    assert [trouble.code for trouble in session.metadata.trouble] == ["interrupted"]
    got, _ = soundfile.read(session.audio_files[0])
    np.testing.assert_array_equal(got, expected)


@pytest.mark.parametrize("format_name", ["AIFF", "W64", "RF64", "AU"])
def test_plain_samples_that_were_cut_are_taken_and_told(tmp_path: Path, format_name: str) -> None:
    source = tmp_path / "cut.sound"
    soundfile.write(source, noise(12.0, 1), 48_000, format=format_name, subtype="PCM_16")
    whole, _ = soundfile.read(source)
    data = source.read_bytes()
    assert not look_at_sound(source, None).facts.sizes_are_wrong
    source.write_bytes(data[: 3 * len(data) // 4])
    summary = import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    assert any("its length" in note for note in summary.notes)
    got, _ = soundfile.read(read_session(tmp_path / "s").audio_files[0])
    np.testing.assert_array_equal(got, whole[: got.size])


@pytest.mark.parametrize(
    "kind", [KINDS[0], KINDS[2], KINDS[8], KINDS[11]], ids=["u8", "24", "flac", "rf64"]
)
def test_long_sound_goes_on_in_further_files(
    tmp_path: Path, kind: tuple[str, str, int, int, int]
) -> None:
    source = tmp_path / "long.sound"
    make_sound(source, kind, seconds=3.0)
    frame_bytes = kind[3] * kind[4] // 8
    piece_bytes = kind[2] * frame_bytes + frame_bytes - 1  # one second and not quite a frame more
    folder = tmp_path / "s"
    folder.mkdir()
    write_sound(look_at_sound(source, None), folder, lambda _: None, piece_bytes=piece_bytes)
    names = sorted(path.name for path in folder.iterdir())
    assert names == ["audio-2.wav", "audio-3.wav", "audio.wav"]
    (folder / "session.json").write_text('{"format_version": 1, "state": "complete"}')
    session = read_session(folder)
    assert session.metadata.trouble == ()
    expected, _ = soundfile.read(source, always_2d=True)
    got = [soundfile.read(file, always_2d=True)[0] for file in session.audio_files]
    np.testing.assert_array_equal(np.concatenate(got), expected)


def test_a_cut_flac_is_refused(tmp_path: Path) -> None:
    source = tmp_path / "cut.flac"
    make_sound(source, KINDS[8], seconds=10.0)
    source.write_bytes(source.read_bytes()[:-200_000])
    with pytest.raises(AudioError, match="export it"):
        import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    assert [path.name for path in tmp_path.iterdir()] == ["cut.flac"]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_sound_that_is_not_finite_is_refused(tmp_path: Path, bad: float) -> None:
    samples = noise(2.0, 2)
    samples[9000, 1] = bad
    soundfile.write(tmp_path / "a.wav", samples, 8000, subtype="FLOAT")
    with pytest.raises(AudioError, match="NaN or infinite"):
        import_session(ImportRequest(audio=(tmp_path / "a.wav",)), tmp_path / "s")
    assert not (tmp_path / "s").exists()


@pytest.mark.parametrize("frames", [0, 1, 7999])
def test_sound_under_a_second_is_refused_with_what_is_needed(tmp_path: Path, frames: int) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(frames), 8000, subtype="PCM_16")
    with pytest.raises(AudioError, match=rf"{frames} samples.*at least 1 s"):
        import_session(ImportRequest(audio=(tmp_path / "a.wav",)), tmp_path / "s")


def test_a_channel_that_is_not_there_is_refused(tmp_path: Path) -> None:
    make_sound(tmp_path / "a.wav", KINDS[2])
    for channel in (0, 3):
        with pytest.raises(AudioError, match="--channel 1 to 2"):
            import_session(
                ImportRequest(audio=(tmp_path / "a.wav",), channel=channel), tmp_path / "s"
            )


@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
def test_a_full_disk_is_not_blamed_on_the_sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the limit of a file's size, which a writer meets as it does a full disk."""
    import resource

    source = tmp_path / "a.flac"
    make_sound(source, KINDS[9])
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, hard))
    try:
        with pytest.raises(SessionError, match=r"cannot write .*check the disk"):
            import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert list(tmp_path.iterdir()) == [source]


@pytest.mark.parametrize("rate_hz", [1, 999, 1_000_001, 10_000_000])
def test_a_rate_that_no_drone_can_be_found_at_is_refused_before_it_is_copied(
    tmp_path: Path, rate_hz: int
) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(2000), rate_hz, subtype="PCM_16")
    with pytest.raises(AudioError, match="samples per second, which cannot be analysed"):
        import_session(ImportRequest(audio=(tmp_path / "a.wav",)), tmp_path / "s")


def test_many_channels_at_a_high_rate_are_read_in_blocks_that_fit_the_memory() -> None:
    assert block_frames(48_000.0, 2) == 384_000
    assert 64 * block_frames(1e6, 64) <= 8_000_000
    assert block_frames(1e6, 65_535) >= 1
