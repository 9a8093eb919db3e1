"""What a sizing rests on, and what to look out for, in sentences."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from analysis.acoustics.transmission_loss import MOUTH_RESISTANCE
from analysis.basics.cure import CURED_DB, NEAR_HIGH, NEAR_LOW
from analysis.basics.interval import Interval
from analysis.bench.exhaust_bench import ExhaustBench
from analysis.branches import Branch, LevelCurves, OtherWay, Prediction, Sizing
from analysis.exhaust.line import ExhaustLine, section_name
from analysis.exhaust.misread import SLIPPED_M, Misread
from analysis.findings import Doubt
from analysis.size.branch_gas import BranchGas
from analysis.size.endless_pipe import worst_at_any_place_db
from analysis.size.parts import with_caps
from analysis.size.request import SizingRequest
from analysis.words.lengths import both, diameter, length, rough_length
from analysis.words.quantities import gas_speed_between
from analysis.words.quantities import rpm as in_rpm
from analysis.words.sentences import listed

# What leaning costs: finite elements in three dimensions, made for this project with general
# libraries, branch of 0.8 of the pipe's bore and 500 mm long: 0.8 and 2.1 %.
HOW_BUILT = (
    "The branch stands at right angles to the pipe, its hole is as wide as its inner diameter, "
    "nothing sticks into the pipe, and it is smooth inside. One that leans over acts shorter than "
    "it is: by 1 % at 60 degrees, by 2 % at 45."
)
MEASURE_OR_SLIDE = (
    "Before you weld, measure the gas temperature in the branch, or make the cap slide and trim "
    "after the drive with the branch on."
)
# judgement: when a weak branch is told; no length moves.
_WEAK_DB = -6.0
# How far off an engine speed is that an ear found and a dashboard's needle gave; judgement: 100 rpm
# at 2,000, no source. It moves no length, only the range foretold and the lengths to try.
BY_EAR_SHARE = 0.05
_EAR_STEPS = 21  # judgement: half a percent apart; finer ones move the range by under 0.1 dB
# judgement: how much less a plan must do, with a length off that the drive cannot check, for that
# to be said: as much as anybody hears. It moves no length.
_HANGS_ON_DB = 3.0
_NO_ROOM = "branch_longer_than_room"
NO_CURE, OTHER_WAY, BY_EAR = "no_cure_in_room", "comes_another_way", "by_ear"
MAY_BE_OTHER_WAY, DRONE_LEFT = "may_come_another_way", "drone_left"
NO_HILL = "no_hill_at_tail"
TELL_BY_TAIL = (
    "The cheapest way to know: the same drive with a second microphone fixed behind the car, near "
    "the tailpipe and out of its gas, never held out by hand; bring its sound in as that of a "
    "second recorder. Then size anew."
)
# of the guesses: what is told of the other way is in nine of ten between the ends; a definition
_SHARE_SPAN = (0.05, 0.5, 0.95)
# judgement: how far all guesses together may be off in it, over what comes from the outlet: of
# eight cars with a fifth of another way two were told twice that, between narrow ends. Only told.
_WAY_OFF = 1.6
# judgement: share of the cases in which sound that passes every branch by leaves no cure, from
# which it is said. It moves no length.
_MAY_PASS_BY = 0.25
LENGTH_MISREAD, LEFT_OUT = "typed_length_does_not_fit", "resonator_left_out"
DO_NOT_CUT = (NO_CURE, OTHER_WAY)
# said wherever a drone may be made by something else
LOOK_FOR_ANOTHER_WAY = (
    "the exhaust must touch nothing, hangers and engine mounts must be soft and whole"
)
# Closed round branches sang at Strouhal numbers f W / U of 0.2 to 0.55, at Mach numbers of 0.029 to
# 0.26: Atomic Energy Science and Technology (2017), doi 10.7538/yzk.2017.youxian.0131, abstract;
# loudest at 0.35 to 0.5: Tonon and others, Int. J. Aeroacoustics 10 (2011) 201, from memory. That W
# is pi d / 4 is from memory.
_STROUHAL = (0.2, 0.55)
_CRUISE_FLOW_M_S = (8.0, 36.0)  # judgement: in a pipe at cruise, estimated from fuel use


def assumptions(
    request: SizingRequest, gas: BranchGas, pipe_bore_m: float, quarter_m: float, count: int
) -> tuple[str, ...]:
    """List what was taken for granted, the weightiest first."""
    said = [*gas.assumptions]
    if request.pipe_inner_diameter_m is None:
        said.append(
            f"Pipe: inner diameter not given; {diameter(pipe_bore_m)}, 2 1/2 in tube, assumed."
        )
    said += [
        "Place: not taken into account. The change comes from transmission loss alone, as if the "
        "pipe had no open end and no muffler; the range is wider by what the place did to made-up "
        f"cars. Rule of thumb: a quarter wavelength in the pipe's gas, {rough_length(quarter_m)}, "
        "upstream of where the last large muffler begins, and a second branch as far again.",
        f"Gas flowing past the mouth adds a resistance of {MOUTH_RESISTANCE:g} rho c, which limits "
        "the peak to about 20 dB.",
        HOW_BUILT,
        "A quarter-wave branch also works at three and five times its frequency, not at twice.",
    ]
    if count == 2:
        said.append(
            "The two branches stand a quarter wavelength in the pipe's gas apart. At the same "
            "place, or half a wavelength apart, they would cancel each other at frequencies "
            "between the two they are tuned to."
        )
    return tuple(said)


def warnings(
    request: SizingRequest,
    gas: BranchGas,
    branches: tuple[Branch, ...],
    predicted: Prediction,
    quarter_m: float,
) -> tuple[Doubt, ...]:
    """List the doubts, each with what to do."""
    doubts = [
        *request.doubts,
        *_room(request, branches),
        Doubt(
            code="place_unknown",
            message="The place is a rule of thumb: the branch may do little there, or make other "
            "engine speeds louder. Describe the exhaust in a car file: then the place is "
            "worked out, and how likely a cure is.",
        ),
        *gas.warnings,
        *slide(branches, request.longest_branch_m),
        *whistle(branches),
    ]
    if predicted.level_change_db_range.high > _WEAK_DB:
        doubts.append(
            Doubt(
                code="weak_cure",
                message="At worst the drone changes by only "
                f"{predicted.level_change_db_range.high:.1f} dB. {MEASURE_OR_SLIDE}",
            )
        )
    return tuple(doubts)


def no_room(sizing: Sizing) -> Doubt | None:
    """Give the warning that nothing that fits cures, or may, which comes before all else."""
    return next((d for d in sizing.warnings if d.code in (_NO_ROOM, NO_HILL, *DO_NOT_CUT)), None)


def may_pass_by(sizing: Sizing) -> Doubt | None:
    """Give the warning that part of the drone may pass every branch by."""
    return next((d for d in sizing.warnings if d.code == MAY_BE_OTHER_WAY), None)


def misread(sizing: Sizing) -> Doubt | None:
    """Give the warning that the drive tells an exhaust otherwise than it was typed."""
    return next((d for d in sizing.warnings if d.code in (LENGTH_MISREAD, LEFT_OUT)), None)


def typed_lengths(
    line: ExhaustLine, wrong: Misread | None, worse_if_slipped_db: dict[int, float]
) -> Iterator[Doubt]:
    """Say which length the drive tells otherwise; else which to measure twice.

    These are sections, by number, whose length it cannot check while the plan needs it: with it
    off, the plan does so much less.
    """
    needed = [number for number, db in worse_if_slipped_db.items() if db >= _HANGS_ON_DB]
    if wrong is not None:
        typed_m = line.sections[wrong.section].length_m
        yield Doubt(
            code=LENGTH_MISREAD,
            message=f"By this drive, {section_name(line, wrong.section)} would be about "
            f"{rough_length(wrong.length_m)} long, not {rough_length(typed_m)} as typed. Before "
            "you cut, measure that pipe again, along its bends, put the length into the car file "
            "and size anew. Until then both lengths count, each as far as it fits the drive. If "
            "the tape says the same again, something else in the car file is not as it is: look "
            "at the other lengths and the mufflers, and for a resonator that was left out.",
        )
    elif needed:
        names = listed([section_name(line, number) for number in sorted(needed)])
        yield Doubt(
            code="length_not_checked",
            is_advice=True,
            message=f"The drive cannot check the length of {names}: measure it twice. A slip "
            f"of {rough_length(SLIPPED_M)} there could cost "
            f"{max(worse_if_slipped_db[number] for number in needed):.0f} dB of the cure.",
        )


def label_of(no_cure: Doubt) -> str:
    """Say in few words why nothing that fits cures, or what to do before."""
    return {NO_HILL: "Check first", OTHER_WAY: "No branch helps"}.get(no_cure.code, "Does not fit")


def _room(request: SizingRequest, branches: tuple[Branch, ...]) -> Iterator[Doubt]:
    room_m = request.longest_branch_m
    if room_m is None:
        return
    too_long = [
        f"{'the branch' if len(branches) == 1 else f'branch {number}'} needs "
        f"{both(branch.length_m)}"
        for number, branch in enumerate(branches, start=1)
        if branch.length_m > room_m + 1e-9
    ]
    if too_long:
        yield Doubt(
            code=_NO_ROOM,
            message=f"The room of {both(room_m)} is too short for this drone: "
            f"{' and '.join(too_long)}. Find a longer place, or bend the branch with mandrel "
            "bends: measured along its centreline, a bend moves the tuning by less than 0.5 %.",
        )


def slide(branches: tuple[Branch, ...], room_m: float | None) -> Iterator[Doubt]:
    """Advise a sliding cap where the gas leaves the right length open."""
    caps = [branch.cap for branch in with_caps(branches, room_m)]
    reach = "; ".join(
        f"branch {number}: the sleeve from 0 to {length(cap.furthest_m)} out"
        for number, cap in enumerate(caps, start=1)
        if cap is not None
    )
    if reach:
        yield Doubt(
            code="use_sliding_cap",
            is_advice=True,
            message="The right length depends on the gas temperature, which is not known well "
            "enough. Make the cap slide over this range, and fix it after the drive with the "
            f"branch on: {reach}.{_reach_past(branches, room_m)}",
        )


def _reach_past(branches: tuple[Branch, ...], room_m: float | None) -> str:
    """Say what to do where the room ends before the hottest gas's length."""
    longest_m = max(branch.longest_m for branch in branches)
    if room_m is None or longest_m <= room_m:
        return ""
    return (
        f" The room of {both(room_m)} ends before the {both(longest_m)} that the hottest gas would "
        "call for: measure the gas temperature if the slide is not enough."
    )


def worst_alone(request: SizingRequest) -> Iterator[Doubt]:
    """Say that the other drones are not planned for where the exhaust is not known."""
    speeds = [in_rpm(rpm) for each in request.others if (rpm := each.rpm(each.peak_hz)) is not None]
    if request.others:
        yield Doubt(
            code=DRONE_LEFT,
            message=f"These branches are for the worst drone alone; the one at {listed(speeds)} is "
            "left as it is. With the lengths of the exhaust in the car file all are planned for "
            "together.",
        )


def whistle(branches: tuple[Branch, ...]) -> Iterator[Doubt]:
    """Say at what gas speed a branch may sing."""
    sings = []
    for branch in branches:
        width_m = np.pi / 4.0 * branch.tube.inner_diameter_m
        # with a can the next resonance is no multiple of the first
        overtones_hz = () if branch.can is not None else (3.0 * branch.tuned_hz,)
        for tone_hz in (branch.tuned_hz, *overtones_hz):
            slow, fast = (tone_hz * width_m / strouhal for strouhal in reversed(_STROUHAL))
            if slow <= _CRUISE_FLOW_M_S[1] and fast >= _CRUISE_FLOW_M_S[0]:
                sings.append(f"{tone_hz:.0f} Hz with gas at {gas_speed_between(slow, fast)}")
    if sings:
        yield Doubt(
            code="may_whistle",
            is_advice=True,
            message=f"A closed branch can sing when gas blows past its mouth: {', '.join(sings)}. "
            "Listen for a new narrow tone after the work.",
        )


def by_ear(sizing: Sizing) -> Sizing:
    """Widen a sizing whose engine speed was heard and not measured, and say so; code ``by_ear``.

    Only the worse end of the foretold range moves: to what these branches leave of the drone where
    it lies up to ``BY_EAR_SHARE`` beside the speed that was told.
    """
    target, curves = sizing.target, sizing.level_curves
    rpm = target.rpm(target.peak_hz)
    if curves is None or rpm is None:
        return sizing
    foretold = sizing.predicted.level_change_db_range
    worst_db = _worst_beside_db(curves, rpm)
    if sizing.by_thumb is not None:
        worst_db = worst_at_any_place_db(worst_db, len(sizing.branches))
    worst_db = max(foretold.high, worst_db)
    lengths = listed([_lengths_by_ear(branch) for branch in sizing.branches])
    low, high = 1.0 - BY_EAR_SHARE, 1.0 + BY_EAR_SHARE
    doubt = Doubt(
        code=BY_EAR,
        message=f"By ear: the drone may lie anywhere from {low * rpm:,.0f} to {high * rpm:,.0f} "
        f"rpm, {low * target.peak_hz:.0f} to {high * target.peak_hz:.0f} Hz, as an ear and a "
        f"dashboard are good to about {100 * BY_EAR_SHARE:.0f} %. So the right length lies "
        f"anywhere from {lengths}, on top of what the gas leaves open. That it is order "
        f"{target.engine_order:g} is taken as told. Record a drive before you cut, if only with a "
        "phone: that settles both.",
    )
    return replace(
        sizing,
        predicted=replace(
            sizing.predicted, level_change_db_range=Interval(low=foretold.low, high=worst_db)
        ),
        warnings=(doubt, *sizing.warnings),
    )


def _lengths_by_ear(branch: Branch) -> str:
    """Lengths for the lowest and the highest speed; the whole column of gas goes with its tune."""
    off_m = BY_EAR_SHARE * (branch.length_m + branch.end_correction_m)
    return f"{length(branch.length_m - off_m)} to {length(branch.length_m + off_m)}"


def _worst_beside_db(curves: LevelCurves, rpm: float) -> float:
    """Change of the highest level near the drone, where it lies beside the speed that was told."""
    lost_db = curves.before_db - curves.after_worst_db
    changes_db = []
    for off in np.linspace(1.0 - BY_EAR_SHARE, 1.0 + BY_EAR_SHARE, _EAR_STEPS):
        near = (curves.rpm >= NEAR_LOW * off * rpm) & (curves.rpm <= NEAR_HIGH * off * rpm)
        there_db = np.interp(curves.rpm[near] / off, curves.rpm, curves.before_db)
        changes_db.append((there_db - lost_db[near]).max() - there_db.max())
    return float(max(changes_db))


def other_way_taken(
    bench: ExhaustBench, measured: OtherWay | None, *, may_cut: bool
) -> Doubt | None:
    """Say that too much of the drone may pass every branch by, and what would tell for sure."""
    silenced_db = bench.silenced().drone_db[0]
    beyond = silenced_db > CURED_DB
    share = float(np.mean(beyond))
    if share < _MAY_PASS_BY:
        return None
    begin = "Branches may not" if may_cut else "Do not cut yet: branches may not"
    left_db = max(-float(np.median(silenced_db[beyond])), 0.0)
    if measured is None:
        begin += " cure this drone: part of it seems not to come out of the tail pipe."
        then = TELL_BY_TAIL
    else:
        begin += f" cure this drone: {_energy(measured)} does not come out of the tail pipe."
        then = "Then record the same drive again, with both microphones, and size anew."
    return Doubt(
        code=MAY_BE_OTHER_WAY if may_cut else OTHER_WAY,
        message=f"{begin} In {cases(share)} even a silent tail pipe would take only "
        f"{left_db:.0f} dB off it; the rest comes through hangers and mounts into the body, or "
        "from the intake, and no branch changes that. Look there: "
        f"{LOOK_FOR_ANOTHER_WAY}. {then}",
    )


def beside_the_pipe(measured: OtherWay | None) -> Iterator[str]:
    """Say how much comes another way, if a microphone at the tail measured it."""
    if measured is not None:
        yield (
            f"By the microphone at the tail, {_energy(measured)} does not come out of the pipe. It "
            "stood as far from each outlet, and heard little else."
        )


def other_way_measured(bench: ExhaustBench, request: SizingRequest) -> OtherWay | None:
    """Give how much of the worst drone comes another way; None where nobody measured it."""
    if request.tail is None:
        return None
    at = int(np.abs(bench.frequency_hz - request.target.peak_hz).argmin())
    energy = np.abs(np.broadcast_to(bench.other_way, bench.before_db.shape)[:, at]) ** 2
    over = np.quantile(energy, _SHARE_SPAN) * [1.0 / _WAY_OFF, 1.0, _WAY_OFF]
    low, middle, high = (over / (1.0 + over)).tolist()
    return OtherWay(share=middle, span=Interval(low=low, high=high))


def _energy(measured: OtherWay) -> str:
    low, middle, high = (
        f"{100.0 * part:.0f}" for part in (measured.span.low, measured.share, measured.span.high)
    )
    return f"{middle} % of its energy ({low} to {high} %)"


def cases(share: float) -> str:
    """Say how many of the guesses."""
    return f"{100.0 * share:.0f} of 100 exhausts that fit what is known of yours"
