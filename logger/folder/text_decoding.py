"""From the bytes of a telemetry file to clean lines of text."""
# SPDX-License-Identifier: GPL-2.0-or-later

import codecs
import errno
import re
import stat
from collections.abc import Callable
from pathlib import Path

from logger.errors import LoggerError, TelemetryError

# judgement: a day of driving at 20 rows a second; what is larger is no log, and would fill the
# memory. No line of a table is so long, no text holds so many control characters.
LARGEST_FILE_BYTES = 100_000_000
LONGEST_LINE = 100_000

_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),  # before UTF-16, whose mark it begins with
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_OTHER_KINDS = (
    (b"PK\x03\x04", "a spreadsheet or zip file"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet file"),
    (b"RIFF", "a sound file"),
    (b"fLaC", "a sound file"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a compressed file"),
    (b"SQLite format 3", "a database"),
    (b"MDF  ", "a binary measurement file"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)
_CONTROL_SIGNS = re.compile(r"[\x01-\x08\x0e-\x1f\x7f\ufffd]")
_MOST_CONTROL_SHARE = 0.01  # judgement: text has none but tabs and line ends; more is no text
_PROBE_BYTES = 4096


def read_text(
    path: Path, encoding: str | None, guess: Callable[[bytes], str] = lambda _: "cp1252"
) -> str:
    r"""Read a text file whose encoding is known (``encoding``) or to be found out.

    Each line of it ends in ``\n``. ``guess`` names the encoding of bytes that are no Unicode.

    Raises
    ------
    TelemetryError
        The file is empty, too large, no text, or not in that encoding.
    """
    data = read_log(path)
    for magic, kind in _OTHER_KINDS:
        if data.startswith(magic):
            raise TelemetryError(f"{path} is {kind}, not a CSV file; save the table as CSV first")
    used = _checked_encoding(encoding) if encoding is not None else _find_encoding(data, guess)
    text = _decode(path, data, used, asked=encoding is not None)
    text = text.replace("\0", "").removeprefix("\ufeff")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    _refuse_binary(path, text)
    return text


def read_whole(
    path: Path, most_bytes: int, error: type[LoggerError], too_large: str, cure: str = ""
) -> bytes:
    """Read a file of at most so many bytes, never a device or a pipe, which may not end.

    ``cure`` says what to do about one that is not read.

    Raises
    ------
    LoggerError
        An ``error``: it cannot be read, or ``too_large`` says what is wrong with a larger one.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise OSError(errno.EINVAL, "it is not a regular file")
        with path.open("rb") as file:
            data = file.read(most_bytes + 1)
    except OSError as fault:
        raise error(f"cannot read {path}: {fault.strerror or fault}{cure}") from fault
    if len(data) > most_bytes:
        raise error(f"{path} {too_large}")
    return data


def read_log(path: Path) -> bytes:
    """Read a log of at most a day of driving."""
    too_large = (
        f"has more than the {LARGEST_FILE_BYTES / 1e6:.0f} MB that are a day of driving; cut it to "
        "the drive"
    )
    data = read_whole(path, LARGEST_FILE_BYTES, TelemetryError, too_large)
    if not data.strip(b" \t\r\n\0"):
        raise TelemetryError(f"{path} is empty; choose another file")
    return data


def _checked_encoding(name: str) -> str:
    try:
        info = codecs.lookup(name)
        "".encode(info.name)  # some codecs, such as rot13 and base64, are not for text
    except (LookupError, ValueError) as error:
        raise TelemetryError(
            f"--encoding {name} is not known; try utf-8, utf-16, cp1252 or latin-1"
        ) from error
    return info.name


def _find_encoding(data: bytes, guess: Callable[[bytes], str]) -> str:
    for mark, name in _BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return name
    probe = data[:_PROBE_BYTES]
    half = max(1, len(probe) // 2)
    if probe[1::2].count(0) > 0.4 * half:
        return "utf-16-le"
    if probe[0::2].count(0) > 0.4 * half:
        return "utf-16-be"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(data)  # a letter may be cut at the end
    except UnicodeDecodeError:
        return guess(data)
    return "utf-8"


def _decode(path: Path, data: bytes, encoding: str, *, asked: bool) -> str:
    if encoding == "cp1252":  # five of its bytes mean nothing; a stray one spoils one cell only
        return data.decode(encoding, errors="replace")
    try:
        return codecs.getincrementaldecoder(encoding)().decode(data)
    except (UnicodeError, LookupError) as error:
        hint = "leave --encoding out" if asked else "give --encoding"
        raise TelemetryError(f"{path} is not text in {encoding}; {hint}") from error


def _refuse_binary(path: Path, text: str) -> None:
    probe = text[:1_000_000]
    if len(_CONTROL_SIGNS.findall(probe)) > _MOST_CONTROL_SHARE * len(probe):
        raise TelemetryError(f"{path} is not a text file; export the telemetry as CSV")
    if not text.strip():
        raise TelemetryError(f"{path} is empty; choose another file")
    if _has_long_line(text):
        raise TelemetryError(
            f"{path} has a line of more than {LONGEST_LINE} characters, so it is not a table; "
            "export the telemetry as CSV with one row a line"
        )


def _has_long_line(text: str) -> bool:
    """Jump from line end to line end, as far apart as allowed."""
    start = 0
    while len(text) - start > LONGEST_LINE:
        end = text.rfind("\n", start, start + LONGEST_LINE + 1)
        if end < 0:
            return True
        start = end + 1
    return False
