"""Files that a browser brought, each bringing in a folder of its own, with what was told of it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import secrets
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from logger.desk.kept_files import keep_document, read_document
from logger.folder.names import METADATA_FILE

_TOLD_FILE = "told.json"
_TOKEN = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True, slots=True)
class Brought:
    """Files that were brought together; the name of their folder is what a page knows them by."""

    folder: Path

    def told(self) -> Mapping[str, Any]:
        """Give what was told of them so far."""
        return read_document(self.folder / _TOLD_FILE) or {}

    def keep(self, told: Mapping[str, object]) -> None:
        """Keep what is told of them."""
        keep_document(self.folder / _TOLD_FILE, told)

    def made(self, session: Path) -> bool:
        """Whether a drive came from these files: only that one may be replaced."""
        try:
            made_at = (session / METADATA_FILE).stat().st_mtime
            told_at = (self.folder / _TOLD_FILE).stat().st_mtime
        except OSError:
            return False
        return self.told().get("name") == session.name and made_at >= told_at


class Inbox:
    """Every bringing in of this start."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def clear(self) -> None:
        """Forget files of an earlier start: whoever brought them has them still."""
        shutil.rmtree(self._path, ignore_errors=True)

    def new(self) -> Brought:
        """Make room for files."""
        folder = self._path / secrets.token_hex(8)
        folder.mkdir(parents=True)
        return Brought(folder)

    def get(self, token: str) -> Brought | None:
        """Give what a page knows by this name, if it is there still."""
        brought = Brought(self._path / token)
        return brought if _TOKEN.fullmatch(token) and brought.told() else None

    def of(self, drive: str) -> str:
        """Name what a drive was made of; "" where that is not there any more."""
        made = (Brought(folder) for folder in sorted(self._path.glob("*/")))
        return next((each.folder.name for each in made if each.told().get("name") == drive), "")
