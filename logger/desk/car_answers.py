"""Answers of the car's form, kept: while it is typed, and with each car file that came of it.

So a page that is reloaded loses nothing, and a car can be changed on the form that it came from.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import hashlib
from collections.abc import Mapping
from pathlib import Path

from logger.desk.folder import DeskFolder
from logger.desk.kept_files import keep_document, read_document, texts_in

_DRAFT = "car-draft.json"


class CarAnswers:
    """What was answered, by the question's key, in the desk's own hidden folder."""

    def __init__(self, folder: DeskFolder) -> None:
        self._folder = folder

    def draft(self) -> dict[str, str]:
        """Give what was typed last, and not yet written; empty where nothing was."""
        return texts_in(read_document(self._folder.hidden(_DRAFT)))

    def keep_draft(self, typed: Mapping[str, str]) -> None:
        """Keep what is typed so far."""
        keep_document(self._folder.hidden(_DRAFT), typed)

    def forget_draft(self) -> None:
        """Begin with an empty form."""
        self._folder.hidden(_DRAFT).unlink(missing_ok=True)

    def of(self, car: Path) -> dict[str, str]:
        """Give the answers that a car file came of; empty once it was changed in another way."""
        document = read_document(self._file(car.name))
        if document is None or document.get("of") != state_of(car):
            return {}
        return texts_in(document.get("answers"))

    def keep(self, car: Path, typed: Mapping[str, str]) -> None:
        """Keep the answers of a car file that was just written."""
        keep_document(self._file(car.name), {"of": state_of(car), "answers": dict(typed)})

    def _file(self, car: str) -> Path:
        return self._folder.hidden("cars") / f"{car}.json"


def state_of(car: Path) -> str:
    """Tell one content of a car file from another."""
    return hashlib.sha256(car.read_bytes()).hexdigest()
