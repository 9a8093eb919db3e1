"""A build backend by PEP 517: a wheel is a zip file with a few texts in it (PEP 427)."""
# SPDX-License-Identifier: GPL-2.0-or-later

import zipfile
from pathlib import Path

_METADATA = "Metadata-Version: 2.1\nName: strangers-box\nVersion: 1.2\n"
_WHEEL = "Wheel-Version: 1.0\nGenerator: own\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
_ENTRY_POINTS = """\
[pipenote.sources]
steady = strangers_box:Steady
broken = strangers_box:NotThere

[pipenote.importers]
boxlog = strangers_box:BoxLog
brokenlog = strangers_box:NotThere
"""


def build_wheel(
    wheel_directory: str, config_settings: object = None, metadata_directory: object = None
) -> str:
    """Write the wheel and give its name."""
    name, info = "strangers_box-1.2-py3-none-any.whl", "strangers_box-1.2.dist-info"
    texts = {
        "strangers_box.py": Path("strangers_box.py").read_text(encoding="utf-8"),
        f"{info}/METADATA": _METADATA,
        f"{info}/WHEEL": _WHEEL,
        f"{info}/entry_points.txt": _ENTRY_POINTS,
    }
    record = "".join(f"{path},,\n" for path in (*texts, f"{info}/RECORD"))
    with zipfile.ZipFile(Path(wheel_directory, name), "w") as wheel:
        for path, text in {**texts, f"{info}/RECORD": record}.items():
            wheel.writestr(path, text)
    return name
