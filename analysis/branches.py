"""What ``size`` recommends, frozen: branches, what they should do, and what that rests on."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.basics.interval import Interval
from analysis.findings import Doubt

_LEAST_GRIP_M = 0.040  # of sleeve on tube when pulled out; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """Round tube as sold: outside diameter and wall."""

    outer_diameter_m: float
    wall_m: float
    name: str  # as a shop would say it, e.g. '2.25 in x 0.065 in'

    @property
    def inner_diameter_m(self) -> float:
        """Bore."""
        return self.outer_diameter_m - 2.0 * self.wall_m

    def is_within(self, width_m: float) -> bool:
        """Whether its outside is no wider: than a pipe's bore, so that it sits on its crown."""
        # a rounding of inches must not shut out a tube as wide as what it is to fit
        return self.outer_diameter_m <= width_m + 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Can:
    """Wider, closed part of a branch, on a neck: tuned as low as a plain branch twice as long.

    ``neck_m`` runs from the datum, the pipe's inner wall, to the can's front, inside.
    """

    tube: Tube
    neck_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SlidingCap:
    """A sleeve over a tube's end that carries the cap, pulled out from where they touch.

    The sleeve's bore is the tube's outside, so it is wider than the tube: near the closed end a
    stretch counts by its volume, and 10 mm of sleeve count as 10 mm times (outside / bore)^2 of
    tube. On a can it goes over the can.

    ``start_m``: out by this, it sounds as sized. ``reach_m``: the lengths of branch that it sounds
    like, from pushed in to ``furthest_m`` out. ``sleeve_m``: how long the sleeve is.
    """

    reach_m: Interval
    start_m: float
    furthest_m: float
    sleeve_m: float
    counts_times: float

    def out_m(self, length_m: float) -> float:
        """How far out it stands to sound like a branch of this length; negative: cut the tube."""
        return (length_m - self.reach_m.low) / self.counts_times

    def length_m(self, out_m: float) -> float:
        """Which branch it sounds like, pulled out this far."""
        return self.reach_m.low + out_m * self.counts_times


def cap_on(
    tube: Tube, length_m: float, reach_m: Interval | None, neck_m: float = 0.0
) -> SlidingCap | None:
    """Give the cap that reaches these lengths of branch; None, a fixed one, where none are given.

    ``tube`` is the one that it goes over, ``neck_m`` what stands before that.
    """
    if reach_m is None:
        return None
    times = (tube.outer_diameter_m / tube.inner_diameter_m) ** 2
    furthest_m = (reach_m.high - reach_m.low) / times
    grip_m = max(_LEAST_GRIP_M, 0.75 * tube.outer_diameter_m)
    if neck_m:
        grip_m = max(_LEAST_GRIP_M, min(grip_m, reach_m.low - neck_m - furthest_m))
    return SlidingCap(
        reach_m=reach_m,
        start_m=(length_m - reach_m.low) / times,
        furthest_m=furthest_m,
        sleeve_m=furthest_m + grip_m,
        counts_times=times,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The drone to cure. ``engine_order`` and the rpm are None when only a frequency is known."""

    engine_order: float | None
    peak_hz: float
    low_hz: float
    high_hz: float

    def rpm(self, frequency_hz: float) -> float | None:
        """Engine speed at which the order has this frequency."""
        return None if self.engine_order is None else 60.0 * frequency_hz / self.engine_order


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """One closed side branch.

    ``length_m`` runs along the branch centreline from the plane tangent to the main pipe's inner
    wall at its crown (on the branch axis) to the inside face of the cap. ``position_m``, from the
    start of its pipe, is None when the place is unknown. With a ``can``, ``tube`` is that of its
    neck. ``slide_m`` holds the lengths that a sliding cap should reach, within the room; None where
    a fixed cap will do. ``legs`` names the pipes that each get one; none where the exhaust is one.
    ``pipe_inner_diameter_m`` is that of the pipe there.
    """

    length_m: float
    tube: Tube
    position_m: float | None
    tuned_hz: float
    gas_temperature_k: float
    end_correction_m: float
    shortest_m: float  # right length if the branch gas is as cold as is credible
    longest_m: float  # right length if it is as hot as is credible
    covers_low_hz: float  # transmission loss of 10 dB or more between these, at gas_temperature_k
    covers_high_hz: float
    peak_loss_db: float  # transmission loss at the tuned frequency, wall losses included
    can: Can | None = None
    slide_m: Interval | None = None
    legs: tuple[str, ...] = ()
    pipe_inner_diameter_m: float | None = None  # None: as the sizing's

    @property
    def capped_tube(self) -> Tube:
        """Tube whose end the cap closes: the can's, or that of a plain branch."""
        return self.tube if self.can is None else self.can.tube

    @property
    def tubes(self) -> tuple[tuple[float, float, Tube], ...]:
        """Its tubes from the datum on: where each begins, where it ends, and which it is."""
        if self.can is None:
            return ((0.0, self.length_m, self.tube),)
        neck_m = self.can.neck_m
        return (0.0, neck_m, self.tube), (neck_m, self.length_m, self.can.tube)

    @property
    def tube_end_m(self) -> float:
        """How far from the datum the tube is cut: at the cap, or at a sliding one pushed in."""
        return self.length_m if self.slide_m is None else self.slide_m.low

    @property
    def cap(self) -> SlidingCap | None:
        """The sleeve that it slides on; None where a fixed cap will do."""
        neck_m = 0.0 if self.can is None else self.can.neck_m
        return cap_on(self.capped_tube, self.length_m, self.slide_m, neck_m)

    @property
    def welds(self) -> int:
        """How many of it there are to weld."""
        return max(len(self.legs), 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """Change of the drone, worst level after minus worst level before."""

    level_change_db: float
    level_change_db_range: Interval  # over the credible gas temperatures and grazing flow
    elsewhere_change_db: float  # NaN without an engine order, or without a rest of the range


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWay:
    """Share of the drone's energy that comes out of no tail pipe, as a microphone there told.

    ``span`` holds nine of ten of the guesses, and what all of them may miss alike.
    """

    share: float
    span: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherDrone:
    """A further drone of the same order, and what the same branches should do to it.

    Where ``is_planned_for`` is false, they are not meant to cure it: none would that cure the rest.
    """

    target: Target
    predicted: Prediction
    is_planned_for: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """What one unit of error costs the first branch: shift of its tuning, and of its loss.

    ``loss_db_*`` is the transmission loss given up at the drone's half-power edges (the worse
    edge) for one unit of error to the worse side. The two for rpm are NaN when the engine order is
    unknown.
    """

    hz_per_kelvin: float
    hz_per_mm: float
    hz_per_rpm: float
    loss_db_per_10_kelvin: float
    loss_db_per_10_mm: float
    loss_db_per_20_rpm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HandMethod:
    """What the hand method (cold air, no corrections) would cut, and where that really tunes."""

    speed_of_sound_m_s: float
    length_m: float
    really_tunes_hz: float
    really_tunes_hz_range: Interval  # over the credible gas temperatures
    level_change_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LossCurves:
    """Transmission loss of all branches together over frequency, cold to hot.

    ``loss_db`` [shape=(n_temperatures, n_frequency)] for ``temperature_k`` [shape=(n,)];
    ``likely_index`` is the row of the likeliest gas.
    """

    frequency_hz: FloatArray
    temperature_k: FloatArray
    likely_index: int
    loss_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelCurves:
    """The drone's order over rpm, before and after; arrays [shape=(n_rpm,)], dB re the peak."""

    rpm: FloatArray
    before_db: FloatArray
    after_db: FloatArray
    after_worst_db: FloatArray  # the worst over the credible gas temperatures


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSection:
    """One section of the exhaust, as its owner measured it."""

    start_m: float  # from the collector
    length_m: float
    inner_diameter_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceMap:
    """What one branch would do at each place and length: nine of ten credible cases are better.

    ``drone_db``, ``elsewhere_db`` [shape=(n_places, n_lengths)]: change of the drone's highest
    level and of that in the rest of the driving range (-inf without a rest).
    """

    position_m: FloatArray
    has_room: BoolArray
    length_m: FloatArray
    drone_db: FloatArray
    elsewhere_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePicture:
    """A pipe that gets a branch, at the drone before any branch; the whole exhaust if it is one.

    ``pressure_db`` [shape=(n_positions,)] is the middle of the credible cases, each with its own
    highest as 0; ``low`` and ``high`` hold eight of ten. ``measured_db`` [shape=(n_frequency,)] is
    the order's level in the drive and ``modelled_db`` [shape=(3, n_frequency)] that of the model on
    a slow trend of source and cabin: low, middle, high; both None without a measured curve.
    ``crossings`` say where another pipe is joined beside it, and by what; ``goes_into`` names the
    pipes that its end leads into.
    """

    legs: tuple[str, ...]  # the pipe's name, and that of one that mirrors it; none of the only one
    sections: tuple[LineSection, ...]
    room_m: tuple[tuple[float, float], ...]
    position_m: FloatArray
    pressure_db: FloatArray
    pressure_low_db: FloatArray
    pressure_high_db: FloatArray
    places: PlaceMap
    frequency_hz: FloatArray
    measured_db: FloatArray | None
    modelled_db: FloatArray | None
    crossings: tuple[tuple[float, str], ...] = ()
    goes_into: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedPlan:
    """One way to go about it that was weighed: what it takes, and what it would do.

    ``cured_*_share`` is the share of the credible cases that are cured, as built and after at most
    one adjustment after the post-fix drive: caps moved, or, where ``keeps_place``, a second branch
    added. Of several drones planned for, all must be cured, and ``level_change_db`` is that of the
    one which changes least.
    """

    name: str
    stations: int  # places along the pipe; each pipe that is alike gets a branch there
    welds: int
    tube_m: float
    level_change_db: float
    level_change_db_range: Interval
    cured_now_share: float
    cured_adjusted_share: float
    keeps_place: bool
    is_chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ByThumb:
    """Places by a rule of thumb, where they are not worked out, and what came of it.

    The first branch goes ``quarter_m`` upstream of the last large muffler, a second as far again.
    Of so many made-up cars built so, ``cured`` were, and in ``louder`` another engine speed got
    louder.
    """

    quarter_m: float  # a quarter wavelength in the pipe's gas, at the drone
    cars: int
    cured: int
    louder: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """Everything ``size`` worked out: for ``target``, the worst drone, and the ``others``."""

    target: Target
    pipe_inner_diameter_m: float
    gas_temperature_k: Interval  # credible range in the branch
    branches: tuple[Branch, ...]
    spacing_m: float | None  # between two branches on one pipe; None without
    predicted: Prediction
    sensitivity: Sensitivity
    hand_method: HandMethod
    loss_curves: LossCurves
    level_curves: LevelCurves | None  # None without an engine order
    assumptions: tuple[str, ...]
    warnings: tuple[Doubt, ...]
    by_thumb: ByThumb | None = None  # None where the places are worked out
    line: LinePicture | None = None  # of the first branch; None without the exhaust's sections
    other_lines: tuple[LinePicture, ...] = ()  # of other pipes, unlike it, that get a branch
    gains: tuple[str, ...] = ()  # what a second branch, another place or more room would buy
    as_good: tuple[tuple[Branch, ...], ...] = ()  # to build instead, elsewhere: nothing lost by it
    plans: tuple[WeighedPlan, ...] = ()  # fewest welds first; none without the exhaust's sections
    kept: Branch | None = None  # at a place to keep for it, in case the next drive asks for it
    others: tuple[OtherDrone, ...] = ()
    other_way: OtherWay | None = None  # None where no microphone at the tail measured it

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """Those of the warnings that tell of this sizing: it may be wrong, or not do."""
        return tuple(each for each in self.warnings if not each.is_advice)

    @property
    def advice(self) -> tuple[Doubt, ...]:
        """Those of the warnings that say how to measure and build; most go with every branch."""
        return tuple(each for each in self.warnings if each.is_advice)

    @property
    def targets(self) -> tuple[Target, ...]:
        """Every drone, the worst first."""
        return (self.target, *(other.target for other in self.others))
