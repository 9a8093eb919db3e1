"""Good inputs of ten kinds, and ways to mangle them: bytes, numbers, lines, lengths."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import soundfile

from tests.command_line import CAR
from tests.logger.microphone.test_calibration import GOOD

RATE_HZ = 8000
_SOUND_S = 1.2

# What no field expects; common practice of those who attack programs, no source.
_HOSTILE = (
    *(b"1e308", b"-1e308", b"1e-308", b"NaN", b"-Infinity", b"0", b"-1", b"1e400", b"9" * 5000),
    *(b"null", b"true", b"{}", b"[]", b'"x"', b"[" * 3000, b"{" * 3000, b"a." * 3000, b'"' * 99),
    *(b"\0", b"\xff\xfe", b"\xed\xa0\x80", b"\\ud800", b"\x1b[31m", b"\xe2\x80\xae", b"\r", b"\n"),
    *(b"0001-01-01T00:00:00+23:00", b"9999-12-31T23:59:59-23:00", b"25:61:61", b"480 degC", b"1 m"),
    *(b"../../x", b"/dev/zero", b"%s%n", b"=", b",", b";", b"\t", b"1_000", b"0x10", b" " * 5000),
)
_WORDS = (
    *(
        "--hz",
        "--rpm",
        "--order",
        "--cylinders",
        "--car",
        "--band",
        "--channel",
        "--json",
        "--built",
    ),
    *("--width", "--sheets", "--angle", "--wall", "--room", "--paper", "--overwrite", "--help"),
    *(
        "--gas-temperature",
        "--idle-rpm",
        "--rpm-at",
        "--write-car",
        "--out",
        "find",
        "size",
        "--keep",
    ),
    *(
        "100",
        "0",
        "-1",
        "1e308",
        "nan",
        "inf",
        "9" * 5000,
        "a\nb",
        "\x1b[31m",
        "\u202e",
        "",
        "x" * 5000,
    ),
    *(
        "4",
        "2000",
        "60 %",
        "-60 degC",
        "480 degC",
        "1 m",
        "0 m",
        "1:35=2900",
        "=",
        "a4",
        "../x",
        "/",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One command, and the folder that it makes when it ends well; None where it makes none."""

    words: tuple[str, ...]
    out: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of input: writes a mangled one into an empty folder, and says what to type."""

    name: str
    make: Callable[[random.Random, Path], Asked]


def mangle(data: bytes, rng: random.Random) -> bytes:
    """Change a few things in the bytes of a good file."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 1, 2, 3, 8))):
        at = rng.randrange(len(out) + 1)
        match rng.randrange(8):
            case 0:
                out[at : at + 1] = bytes([rng.randrange(256)])
            case 1:
                del out[at : at + rng.choice((1, 2, 8, 100, 10_000))]
            case 2:
                out[at:at] = out[at : at + rng.choice((1, 8, 100, 5000))]
            case 3:
                del out[at:]
            case 4:
                out[at:at] = rng.choice(_HOSTILE)
            case 5:
                _replace_number(out, rng)
            case 6:
                lines = bytes(out).split(b"\n")
                rng.shuffle(lines)
                out[:] = b"\n".join(lines)
            case _:
                out[at:at] = bytes(rng.randrange(256) for _ in range(rng.choice((1, 4, 64))))
    return bytes(out)


def _replace_number(out: bytearray, rng: random.Random) -> None:
    """Put something hostile in the place of a number, or of any word."""
    digits = [at for at, sign in enumerate(out) if 0x30 <= sign <= 0x39]
    at = rng.choice(digits) if digits else 0
    end = at
    while end < len(out) and out[end] in b"0123456789.eE+-":
        end += 1
    out[at:end] = rng.choice(_HOSTILE)


def _session(folder: Path, *, with_sound: bool) -> Path:
    session = folder / "session"
    session.mkdir()
    facts = {"format_version": 1, "name": "drive", "cylinders": 6, "marks_s": [1.0, 2.5]}
    facts["calibration"] = {"full_scale_db_spl": 120.0, "response": [[20, -3.0], [20000, 2.0]]}
    facts["sound_gaps"] = [{"after_frame": 4000, "duration_s": 0.2}]
    facts["trouble"] = [
        {"code": "sound_lost", "message": "gone", "start_s": 0.5, "duration_s": 0.2}
    ]
    facts["start_time_utc"] = "2024-06-08T12:00:00+00:00"
    facts["devices"] = {"sound": "cabin"}
    (session / "session.json").write_text(json.dumps(facts, indent=2), encoding="utf-8")
    rows = "".join(f"{0.1 * at:.1f},{900 + 40 * at},{70 + at % 7}.5\n" for at in range(60))
    (session / "telemetry.csv").write_text(f"time_s,rpm,level_a_db\n{rows}", encoding="utf-8")
    if with_sound:
        _write_sound(session / "audio.wav", "WAV")
    return session


def _write_sound(path: Path, container: str) -> None:
    samples = np.random.default_rng(1).uniform(-0.5, 0.5, (int(_SOUND_S * RATE_HZ), 2))
    soundfile.write(path, samples, RATE_HZ, subtype="PCM_16", format=container)


def _in_session(name: str, *, with_sound: bool) -> Callable[[random.Random, Path], Asked]:
    def make(rng: random.Random, folder: Path) -> Asked:
        session = _session(folder, with_sound=with_sound)
        file = session / name
        file.write_bytes(mangle(file.read_bytes(), rng))
        command = rng.choice(("find", "find", "history"))
        return Asked(words=(command, str(session if command == "find" else folder), "--json"))

    return make


def _imported(option: str, good: Callable[[Path], None]) -> Callable[[random.Random, Path], Asked]:
    def make(rng: random.Random, folder: Path) -> Asked:
        file, sound, out = folder / "input", folder / "cabin.wav", folder / "new"
        good(file)
        file.write_bytes(mangle(file.read_bytes(), rng))
        words = ["import", "--out", str(out), option, str(file)]
        if option not in ("--audio", "--telemetry"):
            _write_sound(sound, "WAV")
            words += ["--audio", str(sound)]
        return Asked(words=tuple(words), out=out)

    return make


def _log(path: Path) -> None:
    rows = "".join(
        f"{0.1 * at:.1f};{900 + 7 * at};{0.2 * at:.1f};{70 + at % 9}\n" for at in range(80)
    )
    path.write_text(f"Time (s);Engine speed (rpm);Speed (km/h);LAeq\n{rows}", encoding="utf-8")


def _response(path: Path) -> None:
    path.write_text("* Hz dB\n20 -3.5\n100 -0.25\n1000 0\n12500.5 2\n", encoding="utf-8")


def _calibration(path: Path) -> None:
    path.write_text(json.dumps({"format_version": 1, **asdict(GOOD)}, indent=2), encoding="utf-8")


def _car(rng: random.Random, folder: Path) -> Asked:
    file = folder / "car.toml"
    good = (
        Path(CAR).read_bytes().partition(b"[[exhaust.section]]")[0]
    )  # sized at once, so many can be
    file.write_bytes(mangle(good, rng))
    return Asked(words=("size", "--hz", "100", "--json", "--car", str(file)))


def _command_line(rng: random.Random, folder: Path) -> Asked:
    session = _session(folder, with_sound=False)
    words = [rng.choice(("find", "size", "compare", "history", "report", "import"))]
    words += [rng.choice((*_WORDS, str(session))) for _ in range(rng.randrange(1, 6))]
    return Asked(words=tuple(words))


KINDS = (
    Kind(name="session.json", make=_in_session("session.json", with_sound=False)),
    Kind(name="telemetry.csv", make=_in_session("telemetry.csv", with_sound=False)),
    Kind(name="audio.wav", make=_in_session("audio.wav", with_sound=True)),
    Kind(name="log", make=_imported("--telemetry", _log)),
    Kind(name="WAV", make=_imported("--audio", lambda path: _write_sound(path, "WAV"))),
    Kind(name="FLAC", make=_imported("--audio", lambda path: _write_sound(path, "FLAC"))),
    Kind(name="car", make=_car),
    Kind(name="calibration", make=_imported("--calibration", _calibration)),
    Kind(name="response", make=_imported("--microphone-response", _response)),
    Kind(name="command line", make=_command_line),
)
