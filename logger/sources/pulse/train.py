"""Which edges are the engine's sparks, and how many sparks passed between any two of them.

Sparks come in a rhythm that changes slowly from one to the next. Each one is awaited where the
last ones say; one that is missing is counted all the same, and what lies between is not counted.
A rhythm is believed when twelve intervals in a row kept to it, and then from its first pulse on.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import statistics
from collections import deque
from dataclasses import dataclass

from logger.sources.pulse.edges import Edges
from logger.sources.pulse.rhythm import Rhythm, Step

# judgement: all of these. Believed sooner, a voice or a charger's buzz gives rpm; later, a start is
# missed by as long.
_BELIEVE_AFTER = 12  # intervals
_BELIEVE_AFTER_S = 0.3  # and so long: a voice hums as fast as the fastest engine sparks
_MOST_SPREAD = 0.06  # of the interval
_MAINS_HZ = (50.0, 60.0, 100.0, 120.0)  # buzz of chargers and dimmers
_MAINS_WIDTH = 0.003
_MOST_LOW = 0.2  # share of pulses that are low beside the others
_SOUND_LEAST, _SOUND_MOST = 0.006, 0.08  # of the interval
_SPREADS = 4.0
_STRAYS = 15
_LONGEST_S, _SHORTEST_S = 0.35, 0.9e-3  # half a pulse at 340 rpm, seven pulses at 9,500
_MOST_EDGES = 1000  # before a rhythm is found


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """One spark.

    Attributes
    ----------
    frame : float
    number : int
        Sparks before it in its train, missing ones counted.
    train : int
        Numbers are comparable within one train only.
    is_sound : bool
        Whether it lies where its neighbours say it should; one that does not must not be the end
        of a measurement.
    """

    frame: float
    number: int
    train: int
    is_sound: bool


class PulseTrain:
    """Turns edges into numbered pulses."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._edges: list[tuple[float, float]] = []
        self._rhythm: Rhythm | None = None  # one that is believed
        self._train = 0
        self._places: list[tuple[float, int]] = []  # frame, number; two were given
        self._strays: deque[float] = deque(maxlen=_STRAYS)

    @property
    def usual_height(self) -> float | None:
        """Of the pulses of a rhythm that is believed."""
        return None if self._rhythm is None else self._rhythm.height

    def feed(self, edges: Edges) -> list[Pulse]:
        """Take the next edges; give the pulses that are certain by now."""
        self._edges.extend(zip(edges.frames.tolist(), edges.heights.tolist(), strict=True))
        given: list[Pulse] = []
        while True:
            if self._rhythm is None and not self._find(edges.complete_to):
                return given
            assert self._rhythm is not None
            step = self._rhythm.step(self._edges, edges.complete_to)
            if step is Step.TAKEN:
                self._places.append((self._rhythm.frame, self._rhythm.number))
                given += self._certain()
                continue
            del self._edges[: self._rhythm.at]
            self._rhythm.at = 0
            if step is Step.WAITING:
                return given
            self.end()

    def end(self) -> None:
        """Let the rhythm go; what comes later cannot be counted on from it."""
        self._rhythm = None
        self._places.clear()
        self._strays.clear()
        self._train += 1

    def forget(self) -> None:
        """Let everything go: the next edges have nothing to do with those before."""
        self._edges.clear()
        self.end()

    def _find(self, complete_to: float) -> bool:
        """Look for a rhythm that can be believed; edges that begin none are dropped."""
        while self._edges:
            rhythm = self._begin(complete_to)
            if rhythm is None:
                return False
            places = [(self._edges[0][0], 0), (rhythm.frame, 1)]
            step = Step.LOST if rhythm.interval <= 0.0 else Step.TAKEN
            while step is Step.TAKEN and not self._may_believe(places):
                step = rhythm.step(self._edges, complete_to)
                places.append((rhythm.frame, rhythm.number))
            if step is Step.WAITING and len(self._edges) < _MOST_EDGES:
                return False
            if step is Step.TAKEN and self._believes(rhythm, places):
                rhythm.is_believed = True
                self._rhythm, self._places = rhythm, places
                return True
            # none begins with it; perhaps with the next
            del self._edges[0]
        return False

    def _begin(self, complete_to: float) -> Rhythm | None:
        """Begin with the first edge and the next of its kind; an interval of 0 for none."""
        frame, height = self._edges[0]
        for at, (following, its_height) in enumerate(self._edges[1:], start=1):
            interval = following - frame
            if interval > _LONGEST_S * self._rate_hz:
                break
            if interval >= _SHORTEST_S * self._rate_hz and its_height >= 0.4 * height:
                return Rhythm(frame=following, interval=interval, height=height, at=at + 1)
        else:
            if complete_to < frame + _LONGEST_S * self._rate_hz:
                return None
        return Rhythm(frame=frame, interval=0.0, height=height, at=1)

    def _may_believe(self, places: list[tuple[float, int]]) -> bool:
        enough_s = _BELIEVE_AFTER_S * self._rate_hz
        return len(places) > _BELIEVE_AFTER and places[-1][0] - places[0][0] >= enough_s

    def _believes(self, rhythm: Rhythm, places: list[tuple[float, int]]) -> bool:
        strays = [
            _stray(*five)
            for five in zip(places, places[1:], places[2:], places[3:], places[4:], strict=False)
        ]
        if _spread(strays) > _MOST_SPREAD or rhythm.low_share > _MOST_LOW:
            return False
        (first, _), (last, count) = places[0], places[-1]
        rate_hz = count / (last - first) * self._rate_hz
        if any(abs(rate_hz / mains_hz - 1.0) < _MAINS_WIDTH for mains_hz in _MAINS_HZ):
            return False  # an engine does not stay there
        self._strays.extend(strays)
        return True

    def _certain(self) -> list[Pulse]:
        """Give all pulses but the newest two, whose neighbours are not known yet."""
        given = []
        while len(self._places) >= 5:
            here = self._places[2]
            stray = _stray(*self._places[:5])
            self._strays.append(stray)
            limit = min(_SOUND_MOST, _SOUND_LEAST + _SPREADS * _spread(self._strays))
            given.append(
                Pulse(
                    frame=here[0], number=here[1], train=self._train, is_sound=abs(stray) <= limit
                )
            )
            del self._places[0]
        return given


def _stray(*five: tuple[float, int]) -> float:
    """How far the middle one of five pulses lies off a smooth curve through the others.

    In intervals. A cubic goes through the four others, so that no steady change of speed, nor one
    that itself changes, is taken for a displaced pulse.
    """
    frames = [frame for frame, _ in five]
    numbers = [number for _, number in five]
    middle = numbers[2]
    awaited = 0.0
    for at in (0, 1, 3, 4):
        weight = 1.0
        for other in (0, 1, 3, 4):
            if other != at:
                weight *= (middle - numbers[other]) / (numbers[at] - numbers[other])
        awaited += weight * (frames[at] - frames[2])
    return -awaited * (numbers[4] - numbers[0]) / (frames[4] - frames[0])


def _spread(strays: list[float] | deque[float]) -> float:
    return statistics.median(abs(stray) for stray in strays)
