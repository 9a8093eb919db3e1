"""How a recording stands, twice a second: what the live screen and the plain lines show."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from enum import StrEnum

from logger.recording.coverage import Coverage


class Light(StrEnum):
    """How a device does."""

    WAITING = "waiting"
    GOOD = "good"
    LOST = "lost"


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceState:
    """One device of the recording.

    Attributes
    ----------
    name : str
        ``"sound"``, or the word of the source, such as ``"obd:auto"``.
    readings_per_s : float or None
        Over the last seconds; None for sound.
    words : str
        The last trouble, while the light is not good; else empty.
    """

    name: str
    light: Light
    readings_per_s: float | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """How the recording stands.

    Attributes
    ----------
    elapsed_s : float
        On the clock of the session.
    level_db, peak_db : float
        Mean square and highest sample since the last status, over the channels of cabin sound;
        ``-inf`` in silence.
    full_scale_db : float
        Level of a full-scale sine, in the same unit.
    level_unit : str
        ``"dB re full scale"`` or ``"dB SPL"``.
    is_too_loud : bool
        A sample came within 1 dB of full scale.
    rpm, road_speed_m_s : float or None
        The newest reading, when it is fresh.
    devices : tuple of DeviceState
        Sound first.
    disk_left_s : float
        How long the disk holds out.
    last_trouble : str
        In words, while it goes on and a moment after; else empty.
    coverage : Coverage or None
        None where nobody was asked for rpm.
    """

    elapsed_s: float
    level_db: float
    peak_db: float
    full_scale_db: float
    level_unit: str
    is_too_loud: bool
    rpm: float | None
    road_speed_m_s: float | None
    devices: tuple[DeviceState, ...]
    disk_left_s: float
    trouble_count: int
    last_trouble: str
    mark_count: int
    coverage: Coverage | None
