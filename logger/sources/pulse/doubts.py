"""What is told of a pickup, in words, once each time."""
# SPDX-License-Identifier: GPL-2.0-or-later

from logger.sources.contract import SourceTrouble

# judgement: only when trouble is told. An engine that is off makes no pulses; a few edges a second
# are not yet a signal.
_SILENT_S = 5.0
_UNKNOWN_S = 30.0
_MANY_EDGES_PER_S = 3.0
_COMMON = (
    "0.5 for a clip on the lead of one plug of a four-stroke engine, 1 with wasted spark, half "
    "the number of cylinders for the lead from the coil to a distributor"
)
_ENGINE_OFF = "switch the engine off before you touch it, its leads carry a dangerous voltage"


class PulseDoubts:
    """Decides when to tell what.

    Parameters
    ----------
    name : str
        What the source is called.
    channel : int
        Counted from 1.
    """

    def __init__(self, name: str, channel: int) -> None:
        self._name = name
        self._channel = channel
        self._without_pulses_s = 0.0
        self._edges_without = 0
        self._told: set[str] = set()
        self._doubted_train: int | None = None

    def missing(self, channel_count: int, at_s: float) -> list[SourceTrouble]:
        """Tell that the recording does not have the channel."""
        has = "1 channel" if channel_count == 1 else f"{channel_count} channels"
        return self._once(
            "pulse_channel_missing",
            f"cannot hear channel {self._channel}, the recording has {has}; choose a line-in with "
            "more channels (--microphone, --channels), or another --rpm",
            at_s,
        )

    def too_slow(self, at_s: float) -> SourceTrouble:
        """Tell that sound was left out here; it is in the recording all the same."""
        return self._trouble(
            "telemetry_lost", "could not keep up with the sound; close other programs", at_s
        )

    def of_pulses(
        self, *, edge_count: int, pulse_count: int, sound_s: float, at_s: float
    ) -> list[SourceTrouble]:
        """Note how many edges and pulses there were in so much sound."""
        if pulse_count:
            self._without_pulses_s, self._edges_without = 0.0, 0
            self._told.discard("silence")
            return []
        self._without_pulses_s += sound_s
        self._edges_without += edge_count
        if self._without_pulses_s < _SILENT_S:
            return []
        code, what = (
            "telemetry_silent",
            f"hears no pulses on channel {self._channel}; if the engine runs, {_ENGINE_OFF}, then "
            "clip it on again, and turn the line-in up",
        )
        if self._edges_without > _MANY_EDGES_PER_S * self._without_pulses_s:
            code, what = (
                "telemetry_garbled",
                f"hears no steady rhythm on channel {self._channel}; {_ENGINE_OFF}, then clip it "
                "around one lead only, away from the others",
            )
        return self._once(code, what, at_s - self._without_pulses_s, key="silence")

    def of_working_out(
        self, *, first_pulse_s: float | None, knows_cylinders: bool, at_s: float
    ) -> list[SourceTrouble]:
        """Note that the pulses a turn are not known yet."""
        if first_pulse_s is None or at_s - first_pulse_s < _UNKNOWN_S:
            return []
        more = "" if knows_cylinders else ", or the number of cylinders (--cylinders)"
        return self._once(
            "pulses_per_turn_unknown",
            "cannot tell yet how many pulses a turn of the crankshaft gives, so it gives no rpm; "
            f"let the engine idle, drive slow and fast, or set it{more}: "
            f"--rpm pulse:{self._channel}@N with N {_COMMON}",
            first_pulse_s,
        )

    def of_turns(self, *, is_possible: bool, at_s: float) -> list[SourceTrouble]:
        """Note that the pulses a turn are known, and fit the speeds or not."""
        if is_possible:
            return []
        return self._once(
            "pulses_per_turn_doubtful",
            "gives rpm that engines do not have, so its pulses for each turn are not right; set "
            f"them: --rpm pulse:{self._channel}@N with N {_COMMON}",
            at_s,
        )

    def of_jump(self, train: int, at_s: float) -> list[SourceTrouble]:
        """Note that a train of pulses began at a multiple of the rpm before."""
        if train == self._doubted_train:
            return []
        self._doubted_train = train
        return [
            self._trouble(
                "telemetry_garbled",
                "began to hear another lead as well, or to miss every second spark, and gives no "
                f"rpm meanwhile; {_ENGINE_OFF}, then clip it on closer, away from other leads",
                at_s,
            )
        ]

    def _once(self, code: str, what: str, at_s: float, key: str = "") -> list[SourceTrouble]:
        """Tell it, unless it was told, by its key or else its code, and did not end since."""
        if (key or code) in self._told:
            return []
        self._told.add(key or code)
        return [self._trouble(code, what, at_s)]

    def _trouble(self, code: str, what: str, at_s: float) -> SourceTrouble:
        return SourceTrouble(code=code, message=f"{self._name} {what}", at_s=at_s)
