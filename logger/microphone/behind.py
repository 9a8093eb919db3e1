"""What the sound really comes from, where a name such as ``default`` stands for whatever is set.

On Linux the sound server knows, by its own tool ``pactl`` (of PulseAudio, and of PipeWire in its
place). Elsewhere a device goes by its own name, the default one too, and there is nothing to ask.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import os
import shutil
import subprocess
import sys
from typing import Any

# judgement: it answers in some milliseconds, and a server that hangs must not hold anybody up
_ANSWER_WITHIN_S = 1.0
# Names that stand for what the sound settings say, as PortAudio lists them; from memory.
_STAND_INS = frozenset(
    {
        *("default", "sysdefault", "pulse", "pipewire", "jack"),
        *("microsoft sound mapper - input", "primary sound capture driver"),
    }
)


def is_stand_in(name: str) -> bool:
    """Tell whether a microphone's name says nothing of which device it is."""
    return name.casefold() in _STAND_INS


def sound_behind() -> str:
    """Name the device that this program records from now; empty where nobody can tell."""
    if sys.platform != "linux" or shutil.which("pactl") is None:
        return ""
    ours = str(os.getpid())
    taken = {
        output.get("source")
        for output in _listed("source-outputs")
        if _properties(output).get("application.process.id") == ours
    }
    if not taken:
        return ""
    names = [str(each.get("name")) for each in _listed("sources") if each.get("index") in taken]
    return names[0] if len(names) == 1 else ""


def _listed(what: str) -> list[dict[str, Any]]:
    try:
        told = subprocess.run(
            ["pactl", "--format=json", "list", what],
            capture_output=True,
            timeout=_ANSWER_WITHIN_S,
            check=True,
        )
        found = json.loads(told.stdout)
    except (OSError, ValueError, subprocess.SubprocessError):
        return []
    return [each for each in found if isinstance(each, dict)] if isinstance(found, list) else []


def _properties(listed: dict[str, Any]) -> dict[str, Any]:
    properties = listed.get("properties")
    return properties if isinstance(properties, dict) else {}
