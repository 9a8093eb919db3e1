"""``import``: what was understood of each column, as a table for a terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

from rich.console import Group, RenderableType

from logger.folder.sound_reading import SoundFacts
from logger.importing.request import ImportSummary
from logger.screen.terminal import headed, plain


def import_table(summary: ImportSummary) -> RenderableType:
    """Column, meaning, unit, rows kept and dropped, and why; then sound and assumptions."""
    parts: list[RenderableType] = []
    if summary.columns:
        rows = (
            (
                one.column,
                one.meaning or "not used",
                one.unit,
                f"{one.rows_kept}",
                f"{one.rows_dropped}",
                one.why,
            )
            for one in summary.columns
        )
        headings = ("column", "meaning", "unit", "kept", "dropped", "why")
        parts.append(headed(f"{summary.telemetry_rows} telemetry rows", headings, rows))
    sound = "none" if summary.sound is None else _sound_text(summary.sound)
    parts.append(plain(f"Sound: {sound}"))
    parts += [plain(f"Note: {note}") for note in summary.notes]
    parts.append(plain(f"Session {summary.name!r} is in {summary.session}"))
    return Group(*parts)


def _sound_text(sound: SoundFacts) -> str:
    depth = f"{sound.bit_depth} bit{' float' if sound.is_float else ''}"
    plural = "" if sound.channel_count == 1 else "s"
    return (
        f"{sound.duration_s:.1f} s at {sound.sample_rate_hz:g} Hz, {depth}, "
        f"{sound.channel_count} channel{plural}"
    )
