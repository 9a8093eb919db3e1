"""From blocks of sound to rpm: edges, pulses, pulses a turn, and what a person must be told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.arrays import Samples
from logger.folder.quantities import is_in_range
from logger.sources.contract import Reading, SourceTrouble
from logger.sources.pulse.doubts import PulseDoubts
from logger.sources.pulse.edges import EdgeFinder
from logger.sources.pulse.orders import OrderLines
from logger.sources.pulse.rpm import JumpWatch, RpmCounter
from logger.sources.pulse.train import Pulse, PulseTrain
from logger.sources.pulse.turns import RateLimits, choose_pulses, possible_pulses

# judgement: delay against work; when more is held back, rpm begins later.
_STRETCH_S = 0.2  # looked at in one go
_MOST_HELD_BACK = 40_000  # pulses, until their number a turn is known: ten minutes or more

Event = Reading | SourceTrouble


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseBlock:
    """Sound of the pickup, and of the cabin where there is any [shape=(n,)]; see the contract.

    Blocks of different ``section`` have a gap between them, whatever their frames say.
    """

    pulses: Samples
    cabin: Samples | None
    first_frame: int
    sample_rate_hz: int
    arrived_s: float
    section: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Ignition:
    """What is known beforehand; ``pulses_per_turn`` is None when it is to be worked out."""

    pulses_per_turn: float | None
    cylinders: int | None
    turns_per_cycle: int

    @property
    def firing_order(self) -> float | None:
        """Firings for each turn of the crankshaft."""
        return None if self.cylinders is None else self.cylinders / self.turns_per_cycle


class PulseListener:
    """Takes blocks of one sample rate in order."""

    def __init__(self, ignition: Ignition, doubts: PulseDoubts, sample_rate_hz: int) -> None:
        self.pulses_per_turn: float | None = None
        self._ignition = ignition
        self._doubts = doubts
        self._rate_hz = sample_rate_hz
        self._possible = possible_pulses(ignition.cylinders, ignition.turns_per_cycle)
        self._train = PulseTrain(sample_rate_hz)
        self._limits = RateLimits(sample_rate_hz)
        self._jumps = JumpWatch(sample_rate_hz)
        self._lines = OrderLines(sample_rate_hz)
        self._counter: RpmCounter | None = None
        self._held_back: deque[tuple[Pulse, float]] = deque(maxlen=_MOST_HELD_BACK)
        self._blocks: list[PulseBlock] = []
        self._finder: EdgeFinder | None = None
        self._section = 0
        self._next_frame = 0
        self._arrived_s = 0.0
        if ignition.pulses_per_turn is not None:
            self._settle(ignition.pulses_per_turn)

    def take(self, block: PulseBlock) -> list[Event]:
        """Take the next block; some are put together before they are looked at."""
        events: list[Event] = []
        if block.section != self._section:
            events += self._break_off()
        elif self._finder is not None and block.first_frame != self._next_frame:
            events += [*self._break_off(), self._doubts.too_slow(block.arrived_s)]
        self._section = block.section
        if self._finder is None:
            self._finder = EdgeFinder(self._rate_hz, block.first_frame)
            self._lines.break_off(block.first_frame)
        self._blocks.append(block)
        self._next_frame = block.first_frame + block.pulses.size
        self._arrived_s = block.arrived_s
        if self._next_frame - self._blocks[0].first_frame >= _STRETCH_S * self._rate_hz:
            events += self._look(self._finder)
        return events

    def _break_off(self) -> list[Event]:
        """Finish with the sound so far: what follows does not join on to it."""
        events = self._look(self._finder) if self._finder and self._blocks else []
        self._finder = None
        self._train.forget()
        return events

    def _look(self, finder: EdgeFinder) -> list[Event]:
        blocks, self._blocks = self._blocks, []
        edges = finder.feed(
            np.concatenate([block.pulses for block in blocks]), self._train.usual_height
        )
        pulses = self._train.feed(edges)
        events: list[Event] = []
        for pulse in pulses:
            self._limits.note(pulse)
            if self._counter is None:
                self._held_back.append((pulse, self._at_s(pulse.frame)))
            else:
                events += self._count(self._counter, pulse, self._at_s(pulse.frame))
        if self._counter is None:
            # nothing is given on a guess: a factor of two would be believed by every stage after
            events += self._work_out(blocks, pulses)
        else:
            events += self._doubts.of_turns(
                is_possible=self._limits.allows(self.pulses_per_turn or 1.0), at_s=self._arrived_s
            )
        events += self._doubts.of_pulses(
            edge_count=edges.frames.size,
            pulse_count=len(pulses),
            sound_s=sum(block.pulses.size for block in blocks) / self._rate_hz,
            at_s=self._arrived_s,
        )
        return events

    def _work_out(self, blocks: list[PulseBlock], pulses: list[Pulse]) -> Sequence[Event]:
        firing_order = self._ignition.firing_order
        cabin = [block.cabin for block in blocks if block.cabin is not None]
        has_cabin = firing_order is not None and len(cabin) == len(blocks)
        if has_cabin:
            self._lines.hear(np.concatenate(cabin))
            self._lines.note(pulses)
        found = choose_pulses(
            self._possible, self._limits, self._lines if has_cabin else None, firing_order
        )
        if found is None:
            waited_s = len(self._held_back) and self._at_s(self._held_back[0][0].frame)
            return self._doubts.of_working_out(
                first_pulse_s=waited_s or None,
                knows_cylinders=firing_order is not None,
                at_s=self._arrived_s,
            )
        counter = self._settle(found)
        held_back, self._held_back = self._held_back, deque(maxlen=0)
        return [event for pulse, at_s in held_back for event in self._count(counter, pulse, at_s)]

    def _settle(self, pulses_per_turn: float) -> RpmCounter:
        self.pulses_per_turn = pulses_per_turn
        self._counter = RpmCounter(
            self._rate_hz,
            pulses_per_turn=pulses_per_turn,
            turns_per_cycle=self._ignition.turns_per_cycle,
        )
        return self._counter

    def _count(self, counter: RpmCounter, pulse: Pulse, at_s: float) -> Sequence[Event]:
        mean = counter.note(pulse)
        if mean is None or not is_in_range("rpm", mean.rpm):
            return []
        if not self._jumps.trusts(mean):
            return self._doubts.of_jump(mean.train, at_s)
        middle_s = at_s - 0.5 * mean.width / self._rate_hz
        return [
            Reading(
                quantity="rpm",
                value=mean.rpm,
                request_s=middle_s,
                reply_s=middle_s,
                frame=mean.frame,
            )
        ]

    def _at_s(self, frame: float) -> float:
        return self._arrived_s - (self._next_frame - frame) / self._rate_hz
