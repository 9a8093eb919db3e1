"""What a report is made from: the results, and where they came from."""
# SPDX-License-Identifier: GPL-2.0-or-later

import shlex
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Self

from analysis.branches import Sizing
from analysis.build.workshop.plan import AS_USUAL, BuildWishes
from analysis.compare.trim.built import BuiltBranch
from analysis.findings import DroneBand, Findings
from analysis.listen.two_drives import BothDrives
from analysis.listen.with_branches import Listening
from analysis.verdicts import Comparison

_LIBRARIES = ("numpy", "scipy", "pandas", "plotly")


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Who made the page, from what, with what.

    Attributes
    ----------
    command : the command line as typed
    made_at_utc : datetime with zone UTC
    inputs : names of the session folders and the car file
    versions : (name, version) of each library that touched the numbers
    """

    software_version: str
    command: str
    made_at_utc: datetime
    inputs: tuple[str, ...]
    versions: tuple[tuple[str, str], ...]

    @classmethod
    def now(
        cls, software_version: str, typed: Sequence[str], inputs: Iterable[Path | None]
    ) -> Self:
        """Note what was typed after ``pipenote``, and the folders and files that are given."""
        return cls(
            software_version=software_version,
            command=f"pipenote {shlex.join(typed)}",
            made_at_utc=datetime.now(UTC),
            inputs=tuple(path.resolve().name for path in inputs if path is not None),
            versions=tuple((name, version(name)) for name in _LIBRARIES),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportContents:
    """Everything the page shows.

    ``sizing`` is None without a car, a gas temperature or a drone to cure; ``comparison`` and
    ``postfix`` are None until the drive after the cure exists. ``built``: the branches that were
    welded on in between, as far as somebody said so. ``heard``: the drone to listen to.
    ``wishes``: how the branches are to be built.
    """

    findings: Findings
    provenance: Provenance
    sizing: Sizing | None = None
    comparison: Comparison | None = None
    postfix: Findings | None = None
    built: tuple[BuiltBranch, ...] = ()
    heard: Listening | BothDrives | None = None
    wishes: BuildWishes = AS_USUAL

    @property
    def sized_band(self) -> DroneBand | None:
        """The band that ``sizing`` is meant for: same order, nearest peak."""
        if self.sizing is None:
            return None
        target = self.sizing.target
        same = [b for b in self.findings.bands if b.engine_order == target.engine_order]
        return min(same, key=lambda b: abs(b.peak_hz - target.peak_hz), default=None)
