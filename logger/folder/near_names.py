"""A name that was mistyped: the one that may have been meant."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from difflib import get_close_matches
from pathlib import Path


def did_you_mean(missing: Path, is_like: Callable[[Path], bool] = Path.is_file) -> str:
    """Ask for what lies beside and is named much the same; "" where nothing is."""
    try:
        beside = {each.name: each for each in missing.parent.iterdir() if is_like(each)}
    except OSError:
        return ""
    near = get_close_matches(missing.name, beside, n=1)
    return f"did you mean {beside[near[0]]}?" if near else ""
