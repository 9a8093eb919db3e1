"""A sheet of a spreadsheet (xlsx) as text with tabs, so that it is read like any other table."""
# SPDX-License-Identifier: GPL-2.0-or-later

import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, time, timedelta
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from logger.errors import TelemetryError
from logger.folder.text_decoding import LARGEST_FILE_BYTES
from logger.importing.tables.row_kinds import is_data
from logger.importing.tables.table_shape import MOST_LINES
from logger.software import in_words, others_code

if TYPE_CHECKING:  # loaded where it is used, so that reading text stays quick
    from openpyxl.worksheet._read_only import ReadOnlyWorksheet

_ZIP = b"PK\x03\x04"
_WORKBOOK = "xl/workbook.xml"
# judgement: styles and texts of a log take a hundredth of it; they are read whole, a sheet is not
_LARGEST_PART_BYTES = 20_000_000
_MOST_PARTS = 2000  # judgement: a workbook of a hundred sheets and their pictures has fewer
_MOST_COLUMNS = 500  # judgement: no logger has more
_PROBE_ROWS = 400  # judgement: enough to see past a preamble
_LEAST_DATA_ROWS = 2


def is_spreadsheet(path: Path) -> bool:
    """Whether a file is a zip file, as spreadsheets are."""
    try:
        with path.open("rb") as file:
            return file.read(len(_ZIP)) == _ZIP
    except OSError:
        return False


def read_sheet(path: Path, worksheet: str | None) -> str:
    r"""Give one sheet as lines of cells with ``\t`` between them.

    Raises
    ------
    TelemetryError
        It is no such spreadsheet, too large or damaged, or several of its sheets hold tables and
        nobody said which; the message then names the option and the sheets.
    """
    _refuse_bombs(path)
    with _opened(path) as sheets:
        sheet = _choose(path, sheets, worksheet)
        lines: list[str] = []
        size = 0
        for row in _rows(sheet):
            lines.append("\t".join(row).rstrip("\t"))
            size += len(lines[-1])
            if len(lines) > MOST_LINES or size > LARGEST_FILE_BYTES:
                raise _too_large(path)
    return "\n".join([*lines, ""])


def _refuse_bombs(path: Path) -> None:
    """Look at the sizes that the file states; the zip reader gives no byte more than stated."""
    try:
        with zipfile.ZipFile(path) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise _damaged(path, in_words(error)) from error
    names = {part.filename for part in parts}
    if _WORKBOOK not in names:
        kind = "an OpenDocument spreadsheet" if "mimetype" in names else "a zip file"
        raise TelemetryError(f"{path} is {kind}; save the table as xlsx or CSV")
    in_sheets = [part for part in parts if part.filename.startswith("xl/worksheets/")]
    xml = [part for part in parts if part.filename.endswith((".xml", ".rels"))]
    others = [part for part in xml if part not in in_sheets]
    if (
        len(parts) > _MOST_PARTS
        or sum(part.file_size for part in in_sheets) > LARGEST_FILE_BYTES
        or any(part.file_size > _LARGEST_PART_BYTES for part in others)
    ):
        raise _too_large(path)


@contextmanager
def _opened(path: Path) -> Iterator[list["ReadOnlyWorksheet"]]:
    import openpyxl

    # a damaged file fails in many ways there, and its warnings are about styles
    with (
        others_code(lambda why: _damaged(path, why)),
        path.open("rb") as file,
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(file, read_only=True, data_only=True, keep_links=False)
        try:
            yield list(book.worksheets)
        finally:
            book.close()


def _choose(
    path: Path, sheets: list["ReadOnlyWorksheet"], asked: str | None
) -> "ReadOnlyWorksheet":
    listed = ", ".join(f'{at} "{sheet.title}"' for at, sheet in enumerate(sheets[:20], start=1))
    if asked is not None:
        wanted = asked.strip().casefold()
        for at, sheet in enumerate(sheets, start=1):
            if wanted in (str(sheet.title).strip().casefold(), str(at)):
                return sheet
        raise TelemetryError(f"{path} has no sheet {asked}; give --worksheet, one of: {listed}")
    full = [sheet for sheet in sheets if _holds_table(sheet)]
    if len(full) > 1:
        names = " or ".join(f'"{sheet.title}"' for sheet in full[:20])
        raise TelemetryError(f"{path} has several sheets with tables; give --worksheet {names}")
    if not full:
        raise TelemetryError(
            f"{path} has no sheet with rows of numbers; choose another file, or save the table as "
            "CSV"
        )
    return full[0]


def _holds_table(sheet: "ReadOnlyWorksheet") -> bool:
    rows = (row for row in islice(_rows(sheet), _PROBE_ROWS) if len([*filter(None, row)]) > 1)
    return len([*islice(filter(is_data, rows), _LEAST_DATA_ROWS)]) == _LEAST_DATA_ROWS


def _rows(sheet: "ReadOnlyWorksheet") -> Iterator[list[str]]:
    """Yield the rows that hold anything, as wide as the first of them."""
    probe = islice(_filled_rows(sheet, _MOST_COLUMNS), _PROBE_ROWS)
    width = max((_width(row) for row in probe), default=1)
    for row in _filled_rows(sheet, width):
        yield [_text(value) for value in row]


def _filled_rows(sheet: "ReadOnlyWorksheet", width: int) -> Iterator[tuple[object, ...]]:
    sheet.reset_dimensions()  # what it states of its size may be anything
    empty = (None,) * width
    for row in sheet.iter_rows(max_col=width, values_only=True):
        if row != empty:
            yield row


def _width(row: tuple[object, ...]) -> int:
    return max(at for at, value in enumerate(row, start=1) if value is not None)


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return _number_text(value)
    if isinstance(value, timedelta):
        return f"{value.total_seconds():.6f} s"
    if isinstance(value, datetime):
        return value.isoformat(sep=" ")
    if isinstance(value, time):
        return value.isoformat()
    return " ".join(str(value).replace('"', "").split())


def _number_text(value: float) -> str:
    """Write a number so that no point in it can be taken for parted thousands."""
    text = format(value, ".15g")
    _, _, fraction = text.partition(".")
    return f"{text}0" if len(fraction) == 3 and fraction.isdigit() else text


def _too_large(path: Path) -> TelemetryError:
    return TelemetryError(
        f"{path} unpacks to more than a day of driving; cut it to the drive, or save it as CSV"
    )


def _damaged(path: Path, why: str) -> TelemetryError:
    return TelemetryError(
        f"{path} cannot be read as a spreadsheet ({why[:200]}); open it and save it "
        "again, or save the table as CSV"
    )
