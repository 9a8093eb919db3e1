"""``import``: what was understood of each column, as a table for a terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from logger.folder.sound_reading import SoundFacts
from logger.importing.request import ImportSummary


def import_table(summary: ImportSummary) -> RenderableType:
    """Column, meaning, unit, rows kept and dropped, and why; then sound and assumptions."""
    parts: list[RenderableType] = []
    if summary.columns:
        table = Table(
            title=Text(f"{summary.telemetry_rows} telemetry rows"),
            title_justify="left",
            box=SIMPLE_HEAD,
        )
        for heading in ("column", "meaning", "unit", "kept", "dropped", "why"):
            table.add_column(heading)
        for one in summary.columns:
            table.add_row(
                one.column,
                one.meaning or "not used",
                one.unit,
                f"{one.rows_kept}",
                f"{one.rows_dropped}",
                one.why,
            )
        parts.append(table)
    sound = "none" if summary.sound is None else _sound_text(summary.sound)
    parts.append(Text(f"Sound: {sound}"))
    parts += [Text(f"Note: {note}") for note in summary.notes]
    parts.append(Text(f"Session {summary.name!r} is in {summary.session}"))
    return Group(*parts)


def _sound_text(sound: SoundFacts) -> str:
    depth = f"{sound.bit_depth} bit{' float' if sound.is_float else ''}"
    plural = "" if sound.channel_count == 1 else "s"
    return (
        f"{sound.duration_s:.1f} s at {sound.sample_rate_hz:g} Hz, {depth}, "
        f"{sound.channel_count} channel{plural}"
    )
