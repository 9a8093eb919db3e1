"""Sound and video as phones and recorders make them, decoded in a process with limits.

The files are made by the encoders of the decoding library; what went in is the truth.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import random
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from logger.errors import AudioError
from logger.importing import media_file
from logger.importing.import_session import import_session
from logger.importing.request import ImportRequest
from logger.importing.sound_file import look_at_sound, write_sound
from logger.session import read_session

av = pytest.importorskip("av", reason="the decoder of media files is not installed")

TONE_HZ = 112.0
SECONDS = 6.0
# codec, its form of samples, rate
KINDS = {
    "memo.m4a": ("aac", "fltp", 44_100),
    "lossless.m4a": ("alac", "s16p", 44_100),
    "video.mp4": ("aac", "fltp", 48_000),
    "video.mov": ("aac", "fltp", 48_000),
    "call.3gp": ("libopencore_amrnb", "s16", 8000),
    "call.amr": ("libopencore_amrnb", "s16", 8000),
    "video.webm": ("libopus", "s16", 48_000),
    "video.mkv": ("flac", "s16", 48_000),
    "a.mp3": ("libmp3lame", "fltp", 44_100),
    "a.ogg": ("vorbis", "fltp", 44_100),
    "a.opus": ("libopus", "s16", 48_000),
    "a.caf": ("alac", "s16p", 44_100),
    "a.wma": ("wmav2", "fltp", 44_100),
    "a.aac": ("aac", "fltp", 44_100),
    "ima.wav": ("adpcm_ima_wav", "s16p", 22_050),
    "ms.wav": ("adpcm_ms", "s16", 22_050),
}
CONTAINERS = {"m4a": "ipod", "mkv": "matroska", "wma": "asf", "aac": "adts"}


def make_media(path: Path, seconds: float = SECONDS, created: str = "") -> None:
    codec, form, rate = KINDS[path.name]
    channels = 2 if codec == "vorbis" else 1  # the library's own encoder of it knows no other
    times_s = np.arange(int(seconds * rate)) / rate
    tone = 0.5 * np.sin(2 * np.pi * TONE_HZ * times_s)
    kind = path.suffix[1:]
    with av.open(str(path), "w", format=CONTAINERS.get(kind, kind)) as container:
        if created:
            container.metadata["creation_time"] = created
        layout = "stereo" if channels == 2 else "mono"
        stream = container.add_stream(codec, rate=rate, layout=layout, format=form)
        if codec == "wmav2":  # its encoder has no bit rate of its own
            stream.bit_rate = 96_000
        if codec == "vorbis":
            stream.codec_context.options = {"strict": "experimental"}
        for frame in _frames(tone, rate, form, channels):
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def _frames(tone: np.ndarray, rate: int, form: str, channels: int) -> Iterator[Any]:
    whole = form.startswith("s16")
    samples = (tone * 32767).astype(np.int16) if whole else tone.astype(np.float32)
    resampler = av.AudioResampler(form, "stereo" if channels == 2 else "mono", rate, frame_size=0)
    for start in range(0, samples.size, 1024):
        frame = av.AudioFrame.from_ndarray(
            samples[None, start : start + 1024], "s16" if whole else "flt", "mono"
        )
        frame.sample_rate, frame.pts, frame.time_base = rate, start, Fraction(1, rate)
        yield from resampler.resample(frame)


@pytest.mark.parametrize("name", KINDS)
def test_a_media_file_keeps_its_tone_and_tells_where_it_came_from(
    tmp_path: Path, name: str
) -> None:
    source = tmp_path / name
    make_media(source)
    before = source.read_bytes()
    summary = import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    assert source.read_bytes() == before
    samples, rate = soundfile.read(tmp_path / "s" / "audio.wav", always_2d=True)
    assert rate == KINDS[name][2]
    assert samples.shape[0] / rate == pytest.approx(SECONDS, abs=0.1)
    origin = read_session(tmp_path / "s").metadata.sound_origin
    assert origin is not None
    assert origin.name == name
    assert origin.codec.startswith(KINDS[name][0].removeprefix("lib").removeprefix("opencore_")[:3])
    middle = samples[rate : 5 * rate, 0]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(middle.size), 16 * middle.size))
    assert np.argmax(spectrum) * rate / (16 * middle.size) == pytest.approx(TONE_HZ, abs=0.1)
    voice = [each.code for each in read_session(tmp_path / "s").metadata.trouble]
    assert voice == (["voice_codec"] if "amr" in KINDS[name][0] else [])
    assert summary.sound is not None
    assert not read_session(tmp_path / "s").metadata.sound_gaps


def test_a_lossless_codec_gives_the_very_samples(tmp_path: Path) -> None:
    source = tmp_path / "lossless.m4a"
    make_media(source)
    import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    got, rate = soundfile.read(tmp_path / "s" / "audio.wav", dtype="int16")
    times_s = np.arange(int(SECONDS * rate)) / rate
    tone = (0.5 * np.sin(2 * np.pi * TONE_HZ * times_s) * 32767).astype(np.int16)
    np.testing.assert_array_equal(got[: tone.size], tone)


def test_the_files_own_time_is_the_start_of_the_drive_unless_told(tmp_path: Path) -> None:
    source = tmp_path / "video.mp4"
    make_media(source, created="2024-06-08T10:05:00Z")
    import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    metadata = read_session(tmp_path / "s").metadata
    assert metadata.start_time_utc == datetime(2024, 6, 8, 10, 5, tzinfo=UTC)
    assert metadata.sound_origin is not None
    assert metadata.sound_origin.start_time_utc == metadata.start_time_utc
    told = datetime(2024, 6, 7, 9, 0, tzinfo=UTC)
    import_session(ImportRequest(audio=(source,), started=told), tmp_path / "t")
    assert read_session(tmp_path / "t").metadata.start_time_utc == told


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize("part", [0.3, 0.85])
def test_a_cut_file_is_refused_in_one_line(tmp_path: Path, name: str, part: float) -> None:
    source = tmp_path / name
    make_media(source, seconds=10.0)
    data = source.read_bytes()
    source.write_bytes(data[: int(part * len(data)) - 1])
    with pytest.raises(AudioError, match="cannot be read as sound") as refused:
        import_session(ImportRequest(audio=(source,)), tmp_path / "s")
    assert "\n" not in str(refused.value)
    assert [path.name for path in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize("name", ["memo.m4a", "a.mp3", "a.ogg", "a.opus", "video.mkv", "call.amr"])
def test_a_damaged_file_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    source = tmp_path / name
    make_media(source, seconds=10.0)
    data = bytearray(source.read_bytes())
    start, size = 2 * len(data) // 5, len(data) // 2
    data[start : start + size] = random.Random(5).randbytes(size)
    source.write_bytes(data)
    with pytest.raises(AudioError, match="cannot be read"):
        look_at_sound(source, None)


def test_one_channel_and_pieces_of_a_media_file(tmp_path: Path) -> None:
    source = tmp_path / "a.ogg"
    make_media(source)
    sound = look_at_sound(source, 2)
    write_sound(sound, tmp_path, lambda _: None, piece_bytes=4 * 44_100 * 2)
    pieces = [soundfile.info(str(path)) for path in sorted(tmp_path.glob("audio*.wav"))]
    assert [piece.channels for piece in pieces] == [1, 1, 1, 1]
    assert sum(piece.frames for piece in pieces) == sound.facts.frame_count


@pytest.mark.parametrize(
    "text",
    [
        "#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\n{other}\n#EXT-X-ENDLIST\n",
        "ffconcat version 1.0\nfile {other}\n",
    ],
)
def test_a_playlist_opens_no_other_file(tmp_path: Path, text: str) -> None:
    make_media(tmp_path / "a.aac")
    source = tmp_path / "list.m4a"
    source.write_text(text.format(other=tmp_path / "a.aac"))
    with pytest.raises(AudioError, match="cannot be read"):
        look_at_sound(source, None)


def test_a_decoder_that_hangs_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with _another_decoder(tmp_path, monkeypatch, "import time\ntime.sleep(600)\n"):
        monkeypatch.setattr(media_file, "_SILENT_S", 0.2)
        with pytest.raises(AudioError, match="said nothing for"):
            look_at_sound(tmp_path / "any.m4a", None)


@pytest.mark.parametrize(
    "program",
    [
        "import os\nos.abort()\n",
        "print('H' + chr(255) * 9)\n",
        "import sys\nsys.stdout.buffer.write(b'D\\xff\\xff\\xff\\xff')\n",
    ],
    ids=["crash", "nonsense", "size"],
)
def test_a_decoder_that_breaks_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, program: str
) -> None:
    with (
        _another_decoder(tmp_path, monkeypatch, program),
        pytest.raises(AudioError, match="broke off"),
    ):
        look_at_sound(tmp_path / "any.m4a", None)


@contextmanager
def _another_decoder(folder: Path, monkeypatch: pytest.MonkeyPatch, program: str) -> Iterator[None]:
    child = folder / "child.py"
    child.write_text(program)
    (folder / "any.m4a").write_bytes(b"no sound")
    monkeypatch.setattr(media_file, "_CHILD", child)
    yield


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit")
def test_the_decoder_gets_no_more_memory_than_a_recording_needs() -> None:
    probe = (
        "import json, resource, sys; sys.path.insert(0, sys.argv[1]); import media_child;"
        "media_child._limit_this_process();"
        "print(json.dumps(resource.getrlimit(resource.RLIMIT_DATA)[0]));"
        "bytearray(600 << 20)"
    )
    done = subprocess.run(
        [sys.executable, "-P", "-c", probe, str(Path(media_file.__file__).parent)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert json.loads(done.stdout) < 500 << 20
    assert done.returncode != 0
    assert "MemoryError" in done.stderr


def test_without_the_decoder_it_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "memo.m4a").write_bytes(b"no sound")
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    with pytest.raises(AudioError, match="pip install av"):
        look_at_sound(tmp_path / "memo.m4a", None)
