"""Where a report came from: this software, its libraries, now."""
# SPDX-License-Identifier: GPL-2.0-or-later

import shlex
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from analysis.report.contents import Provenance

_LIBRARIES = ("numpy", "scipy", "pandas", "plotly")


def provenance_now(
    software_version: str, typed: Sequence[str], inputs: Iterable[Path | None]
) -> Provenance:
    """Note what was typed after ``pipenote``, and the folders and files that are given."""
    return Provenance(
        software_version=software_version,
        command=f"pipenote {shlex.join(typed)}",
        made_at_utc=datetime.now(UTC),
        inputs=tuple(path.resolve().name for path in inputs if path is not None),
        versions=tuple((name, version(name)) for name in _LIBRARIES),
    )
