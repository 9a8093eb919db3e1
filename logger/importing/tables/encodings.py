"""Which encoding a text without a mark is in: the one in which its columns have names we know."""
# SPDX-License-Identifier: GPL-2.0-or-later

import codecs
import re

from logger.importing.tables.column_names import kinds_of, read_column_name

# In the order of preference where several fit alike. Common practice, no source.
_CANDIDATES = (
    *("cp1252", "cp1250", "cp1251", "koi8-r", "gb18030", "shift_jis", "big5", "euc_jp", "euc_kr"),
    *("cp1254", "cp1256", "iso8859-5", "iso8859-6", "cp866", "cp850", "mac_roman", "mac_cyrillic"),
)
_PROBE_BYTES = 20_000  # judgement: a header begins within it, and words in many rows add nothing
_CELLS = re.compile(r"[\n\r\t;,|\"]+")
_LONGEST_NAME = 80  # judgement: a longer cell is no name


def guess_encoding(data: bytes) -> str:
    """Choose the encoding in which most cells beyond ASCII name a column; cp1252 where none do."""
    probe = data[:_PROBE_BYTES]
    return max(_CANDIDATES, key=lambda encoding: _known_names(probe, encoding))


def _known_names(probe: bytes, encoding: str) -> int:
    decoder = codecs.getincrementaldecoder(encoding)(
        errors="replace" if encoding == "cp1252" else "strict"
    )
    try:
        text = decoder.decode(probe)  # a letter may be cut at the end
    except UnicodeDecodeError:
        return -1
    cells = {cell.strip() for cell in _CELLS.split(text)}
    names = (cell for cell in cells if len(cell) <= _LONGEST_NAME and not cell.isascii())
    return sum(1 for name in names if kinds_of(read_column_name(name)))
