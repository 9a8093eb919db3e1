"""Answers that are kept in a file beside the car file, from the first one until it is written."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Self

from analysis.errors import CarError
from logger.folder.output_file import write_text

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.describe.question import Question

_SUFFIX = ".answers"
_LARGEST_BYTES = 100_000  # judgement: answers have a few thousand; more is another file, refused


@dataclass(slots=True, kw_only=True)
class CarAnswers:
    """Answers in the order asked, and the file that always holds them."""

    path: Path
    answers: dict[str, str] = field(default_factory=dict)

    @classmethod
    def beside(cls, out: Path) -> Self:
        """Take up answers kept earlier for this car file.

        Raises
        ------
        CarError
            There is another file in their place.
        """
        from analysis.describe.interview import kept_answers

        path = out.with_name(out.name + _SUFFIX)
        if not path.exists():
            return cls(path=path)
        try:
            if not path.is_file() or path.stat().st_size > _LARGEST_BYTES:
                raise CarError("it is no such file")
            return cls(path=path, answers=kept_answers(json.loads(path.read_bytes())))
        except (OSError, ValueError, RecursionError) as error:
            raise CarError(
                f"{path} should hold earlier answers, but cannot be read; move it away, or give "
                "another --out"
            ) from error

    def add(self, question: Question, line: str) -> None:
        """Take in one more answer.

        Raises
        ------
        CarError
            It cannot be meant.
        OutputError
            It cannot be kept.
        """
        from analysis.describe.interview import with_answer

        self.answers = with_answer(self.answers, question, line)
        self._keep()

    def back(self) -> bool:
        """Take the last answer back; false where there is none."""
        from analysis.describe.interview import without_last

        if not self.answers:
            return False
        self.answers = without_last(self.answers)
        self._keep()
        return True

    def forget(self) -> None:
        """Delete the file: the car file holds it all."""
        self.path.unlink(missing_ok=True)

    def _keep(self) -> None:
        text = json.dumps(self.answers, ensure_ascii=False, indent=1)
        write_text(self.path, text, overwrite=True)
