"""Small JSON files that the desk keeps for itself."""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from logger.folder.atomic import replace_file


def keep(file: Path, said: bytes) -> None:
    """Write a file of the desk's own, whole or not at all."""
    file.parent.mkdir(parents=True, exist_ok=True)
    replace_file(file, (said,))


def keep_document(file: Path, document: Mapping[str, object]) -> None:
    """Write a document that :func:`read_document` reads."""
    keep(file, json.dumps(dict(document), ensure_ascii=False).encode("utf-8"))


def read_document(file: Path) -> Mapping[str, Any] | None:
    """Read what was kept, or what a command said; None where there is nothing whole."""
    try:
        document = json.loads(file.read_bytes())
    except (OSError, ValueError):
        return None
    return document if isinstance(document, dict) else None


def texts_in(found: object) -> dict[str, str]:
    """Give the texts of a part of a document, by name; none where it is no such part."""
    if not isinstance(found, Mapping):
        return {}
    return {str(key): told for key, told in found.items() if isinstance(told, str)}
