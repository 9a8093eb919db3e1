"""What ``check`` is asked to try."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """What to try; without a microphone's name the default one, without channels the first two."""

    microphone: str | None
    channels: tuple[int, ...] | None
    rpm: tuple[str, ...]
    cylinders: int | None
    seconds: float
