"""Moments that somebody in the car marked, and what the engine did then."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

from analysis.findings import Findings
from analysis.words.quantities import seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One moment; ``rpm`` is NaN and ``band`` None where they are not known.

    ``band`` is the number, counted from 1, of the band that the engine was in.
    """

    at_s: float
    rpm: float
    band: int | None

    def __str__(self) -> str:
        """E.g. 'at 62.0 s: 2,240 rpm, in band 1'."""
        if not math.isfinite(self.rpm):
            return f"at {seconds(self.at_s)}: engine speed not known"
        inside = "in no band" if self.band is None else f"in band {self.band}"
        return f"at {seconds(self.at_s)}: {self.rpm:,.0f} rpm, {inside}"


def marks(findings: Findings) -> tuple[Mark, ...]:
    """Give the marks of a drive in order of time."""
    out = []
    for at_s in findings.marks_s:
        rpm = findings.engine_speed.rpm_at(at_s)
        out.append(Mark(at_s=at_s, rpm=rpm, band=findings.band_at(rpm)))
    return tuple(out)
