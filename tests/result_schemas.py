"""The published schemas of results, to hold documents against."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
from collections.abc import Mapping

from analysis.basics.own_files import own_text


def result_schema(name: str) -> Mapping[str, object]:
    """JSON Schema (draft 2020-12) of a result: ``find``, ``size``, ``compare`` or ``history``."""
    text = own_text("analysis.answers", f"schemas/{name}.schema.json")
    schema: dict[str, object] = json.loads(text)
    return schema
