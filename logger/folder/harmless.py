"""Text out of files and names, without what a terminal or a page would obey instead of show."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re

# Controls (Cc), line and paragraph separators (Zl, Zp), halves of surrogate pairs (Cs), and the
# embeddings, overrides and isolates that turn the text around them (bidirectional formatting
# characters, Unicode Standard Annex 9).
_OBEYED = re.compile("[\0-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\u202a-\u202e\u2066-\u2069]")


def harmless(text: str) -> str:
    """Text on one line that can be shown anywhere; what was taken out leaves a blank or a sign."""
    return _OBEYED.sub(lambda sign: " " if sign[0].isspace() else "\ufffd", text)


def is_harmless(text: str) -> bool:
    """Tell whether :func:`harmless` would leave the text as it is."""
    return _OBEYED.search(text) is None
