"""Build sheets read back: words by PDFium, which is fast, and drawn lines by pdfplumber."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
from functools import cached_property
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
from numpy.typing import NDArray

MM = 72.0 / 25.4  # points
Points = NDArray[np.float64]


class Printed:
    """A PDF of sheets; what is read of it once is kept."""

    def __init__(self, data: bytes) -> None:
        self.pdf = pdfplumber.open(io.BytesIO(data))
        self._texts = [page.get_textpage() for page in pypdfium2.PdfDocument(data)]

    @cached_property
    def texts(self) -> list[str]:
        """The words of each page, one blank between them."""
        return [" ".join(text.get_text_range().split()) for text in self._texts]

    @property
    def text(self) -> str:
        """The words of all pages."""
        return " ".join(self.texts)

    def number_of(self, title: str) -> int:
        """Which page, from 0, is the first that holds these words."""
        return next(number for number, text in enumerate(self.texts) if title in text)

    def page(self, title: str) -> Any:
        """That page as pdfplumber reads it, with all that is drawn on it."""
        return self.pdf.pages[self.number_of(title)]

    def boxes(self, number: int) -> list[tuple[float, float, float, float, str]]:
        """Left, bottom, right and top edge in points from the lower left corner, of each run of
        words on a page, and the words."""
        text = self._texts[number]
        edges = [text.get_rect(run) for run in range(text.count_rects())]
        return [(*edge, text.get_text_bounded(*edge)) for edge in edges]


def curves_mm(page: Any) -> list[Points]:
    """Every drawn path as points [shape=(n, 2)] in mm from the page's lower left corner."""
    height = float(page.height)
    return [
        np.array([(x / MM, (height - y) / MM) for x, y in curve["pts"]]) for curve in page.curves
    ]
