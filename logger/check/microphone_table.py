"""The microphones of this machine as a table for a terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable

from rich.box import SIMPLE_HEAD
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from logger.microphone.microphones import MicrophoneFacts


def microphone_table(microphones: Iterable[MicrophoneFacts]) -> RenderableType:
    """Every microphone with the number that ``--microphone`` takes."""
    table = Table(title=Text("Microphones"), title_justify="left", box=SIMPLE_HEAD)
    for heading in ("number", "name", "through", "channels", "rate", ""):
        table.add_column(heading)
    for one in microphones:
        table.add_row(
            f"{one.index}",
            one.name,
            one.host,
            f"{one.channel_count}",
            f"{one.sample_rate_hz} Hz",
            "default" if one.is_default else "",
        )
    return table
