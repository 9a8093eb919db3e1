"""Every doubt about an old session that holds levels and no sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from analysis.basics.arrays import FloatArray
from analysis.find.sound.speed_track import gaps_between
from analysis.find.sound.weighting import a_weighting_db
from analysis.findings import Doubt, TelemetryDelay

_DRONE_HZ = 100.0  # judgement: where A weighting is told to hide a drone, 19 dB (IEC 61672)


def doubts_of_levels(
    order: float, unit: str, time_s: FloatArray, lag: TelemetryDelay | None, *, has_bands: bool
) -> Iterator[Doubt]:
    """Say what levels leave open; ``time_s`` [shape=(n,)] of those with engine speed known."""
    yield Doubt(
        code="levels_only",
        may_hide=bool(_hidden(unit)),
        message=(
            f"This session has levels in {unit} and no sound: the drone is assumed to be the "
            f"firing order ({order:g}), road and wind noise could not be taken off, and the "
            f"cause cannot be told.{_hidden(unit)} Record sound to be sure before you cut metal."
        ),
    )
    if has_bands:
        yield Doubt(
            code="one_gear_only",
            message=(
                "From levels alone a drone of the engine cannot be told from one of tyres or "
                "driveline."
            ),
        )
    if lag is None:
        yield Doubt(
            code="telemetry_unaligned",
            may_hide=True,
            message=(
                "The levels do not show how late the engine speed was logged, so it was taken as "
                "on time: a drone can be off and look too wide. Log slow sweeps, up and down."
            ),
        )
    if gaps := gaps_between(time_s):
        yield Doubt(
            code="telemetry_gap",
            message=(
                f"Levels or engine speed are missing in {len(gaps)} stretches; they are left out."
            ),
        )


def _hidden(unit: str) -> str:
    """Say what an A-weighted level does not show."""
    if unit != "dB(A)":
        return ""
    lost_db = -float(a_weighting_db(_DRONE_HZ))
    return (
        f" The A-weighting takes about {lost_db:.0f} dB off at {_DRONE_HZ:.0f} Hz (IEC 61672-1), "
        "so a drone can hide below the wind and tyres."
    )
