"""Which engine speed the lines mean: the path's own, or one half, two thirds, twice ... of it.

Lines of an engine stand at half orders. Which of them are there hangs on the engine: all, where its
cylinders are unlike; the multiples of the firing order alone, where they are alike; those of one
bank. Each reading says where lines stand and where none can. It gains by each line that is where it
should be, and loses by each that is missing; the most plausible speed weighs in. Where two speeds
come out nearly alike, the sound does not tell which is true. The engine stays the same all along:
stretches that show its lines at twice or half their places are left out.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.find.speed.line_profile import HeardLines, LineProfile
from analysis.find.speed.speed_path import HeardPath

# judgement: a path that fits part of the lines is off by one of these: lines at every second,
# third, fourth half order, at every second firing, at firing order 4 taken for order 1.5 (3/8) ...
_RATIOS = tuple(a / b for a, b in ((1, 4), (1, 3), (3, 8), (1, 2), (2, 3), (3, 4), (1, 1))) + tuple(
    b / a for a, b in ((3, 4), (2, 3), (1, 2), (3, 8), (1, 3), (1, 4))
)
_HIGHEST_ORDER = 16.0  # of the path
_ON_LINE = 0.01  # orders are multiples of a half within rounding

# judgement: all of these. That they hold is measured by tests/benchmarks/rpm_from_sound.
# Chance that a line stands:
_STANDS = 0.9  # where the reading has one
_MAY_STAND = 0.6  # where it may have one
_FAINT = 0.05  # where it may have a fainter one
_STRAY = 0.02  # where it has none
_FAINTER_DB = 6.0  # below the typical line of the firing order: fainter
# judgement: natural logarithm of how often engines are so, checked by the same benchmark
_ALL_UNLIKE = -0.7  # every cylinder differs, every half order stands
_SOME_MISSING = -1.0  # the same, and some lines are lost
_ALIKE = 0.0  # only the multiples of the firing order stand
_NEARLY_ALIKE = -0.7  # the same, with fainter lines between
_UNLIKE_BANKS = -3.0  # two banks that differ
_ONE_BANK = -6.0  # only one of the two is heard
_IN_STEP = -4.0  # unlike cylinders that leave out every line but the multiples of one order
_STEPS = (1.0, 1.5, 2.5)  # those orders
_FIRING_OF_TWO_PIPES = 3.0  # vees from six cylinders up have a pipe for each bank
# judgement: how far a line lies off the mean of its neighbours; recorded engines show 3 to 6 dB
_SMOOTH_DB = 2.5  # of cylinders alike
_JAGGED_DB = 5.0  # of cylinders unlike
_LEAST_OF_BEND = -1.5  # the most that a jagged row of lines counts against a reading
_SURELY_STANDS = 2.0  # logarithm of odds from which a line is there
_SELDOM_FROM_ORDER = 12.0  # from here on lines are seldom heard
_SELDOM = 0.5  # and this is the most likely that one is
_LEAST_OF_RIVAL = 0.5  # evidence of lines; less is none
_SAME = 0.03  # two speeds nearer than this are one
# judgement: odds of 20 to 1 that a stretch was driven at another ratio to the path
_CLEARLY_OTHER = 3.0
# judgement: orders to either side of a half order that its own line may fill; and the logarithm of
# odds from which a line between counts. Music had sums of 3 to 20, engines 0 to 1.4
_SKIRTS, _STRAYS_FROM = 0.15, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """An engine speed over the drive, and the natural logarithm of the odds for it.

    ``path`` is ``ratio`` times the one along which ``profile`` was taken.
    """

    path: HeardPath
    ratio: float
    profile: LineProfile
    log_odds: float
    evidence: float  # the part of it that the lines give
    strays: float  # logarithms of odds of the lines that stand where no engine has any


def all_orders() -> FloatArray:
    """Where any reading of a path may have a line, in orders of the path's own speed."""
    halves = [0.5 * ratio * np.arange(1.0, 100.0) for ratio in _RATIOS]
    orders = np.unique(np.round(np.concatenate(halves), 6))
    return np.asarray(orders[orders <= _HIGHEST_ORDER])


def readings(
    path: HeardPath,
    lines: HeardLines,
    firing_order: float,
    plausibility: Callable[[HeardPath], float],
    frames_of_surest: int = 0,
) -> list[Reading]:
    """Every reading of one path, best first.

    ``frames_of_surest`` is in how many frames the surest path is sure, this one if nothing is said:
    a reading that is sure for a moment only explains as little of the drive.
    """
    of_frames = max(frames_of_surest, int(np.count_nonzero(path.is_sure)), 1)
    found = []
    for ratio in _RATIOS:
        fits = _fits_the_whole(lines, ratio)
        kept = path.only_in([each for each, fit in zip(lines.frames, fits, strict=True) if fit])
        profile = lines.profile(fits).weakened(np.count_nonzero(kept.is_sure) / of_frames)
        scaled = kept.scaled(ratio)
        evidence = _evidence(profile, ratio, firing_order)
        found.append(
            Reading(
                path=scaled,
                ratio=ratio,
                profile=profile,
                evidence=evidence,
                strays=_strays(profile, ratio),
                log_odds=evidence + plausibility(scaled),
            )
        )
    return sorted(found, key=lambda each: -each.log_odds)


def _fits_the_whole(lines: HeardLines, ratio: float) -> BoolArray:
    """Whether each stretch has the lines of the whole at this reading [shape=(n_stretches,)].

    A path may be right at idle and at half the speed for the rest of the drive. The engine is the
    same: where its lines stand at twice their places, the path is at half of the speed it has
    elsewhere, and no reading makes both right.
    """
    whole = lines.profile(np.ones(len(lines.frames), dtype=np.bool_))
    order = whole.orders / ratio
    half_orders = _on_multiples(order, 0.5)
    chance = np.clip(1.0 / (1.0 + np.exp(-whole.log_odds[half_orders])), _STRAY, _STANDS)
    told = np.where(lines.weight > 0.0, lines.log_odds, 0.0)

    def explained(times: float) -> FloatArray:
        """Evidence of each stretch that it was driven at so many times the path's speed."""
        places = times * whole.orders[half_orders]
        nearest = np.clip(
            np.searchsorted(lines.orders, places - _ON_LINE), 0, lines.orders.size - 1
        )
        known = np.abs(lines.orders[nearest] - places) < _ON_LINE
        return np.asarray(_gain(chance[known], told[:, nearest[known]]).sum(axis=1))

    as_read = explained(1.0)
    otherwise = np.max([explained(other / ratio) for other in _RATIOS if other != ratio], axis=0)
    return np.asarray(otherwise - as_read < _CLEARLY_OTHER)


def rival_of(best: Reading, others: list[Reading]) -> Reading | None:
    """Give the likeliest reading that means another engine speed."""
    rivals = [
        each
        for each in others
        if each.evidence > _LEAST_OF_RIVAL and not _agree(best.path, each.path)
    ]
    return max(rivals, key=lambda each: each.log_odds, default=None)


def _agree(one: HeardPath, other: HeardPath) -> bool:
    """Whether two paths mean the same where both are sure of themselves."""
    rpm = np.interp(one.time_s, other.time_s, other.rpm)
    is_sure = np.interp(one.time_s, other.time_s, other.is_sure.astype(np.float64)) > 0.5
    both = one.is_sure & is_sure
    if not both.any():
        both = np.ones(both.size, dtype=np.bool_)
    return float(np.median(np.abs(np.log(rpm[both] / one.rpm[both])))) < _SAME


def _off_multiples(order: FloatArray, step: float) -> FloatArray:
    """How far orders are from the nearest multiple of ``step``, in orders."""
    return np.asarray(np.abs(order - step * np.rint(order / step)))


def _on_multiples(order: FloatArray, step: float) -> BoolArray:
    return np.asarray(_off_multiples(order, step) < _ON_LINE)


def _gain(chance: FloatArray, log_odds: FloatArray) -> FloatArray:
    """Evidence of lines for a reading that gives each this chance, against one that has none."""
    odds = np.exp(log_odds)
    return np.asarray(np.log((chance * odds + 1.0 - chance) / (_STRAY * odds + 1.0 - _STRAY)))


def _evidence(profile: LineProfile, ratio: float, firing_order: float) -> float:
    """Of the likeliest engine behind this speed."""
    order = profile.orders / ratio
    on_lattice = _on_multiples(order, 0.5)
    order, log_odds = order[on_lattice], profile.log_odds[on_lattice]
    height_db = profile.height_db[on_lattice]

    def of(chance: FloatArray) -> float:
        chance = np.where(order > _SELDOM_FROM_ORDER, np.minimum(chance, _SELDOM), chance)
        return float(_gain(chance, log_odds).sum())

    def smooth(*groups: BoolArray) -> float:
        return sum(_smoothness(height_db[group], log_odds[group]) for group in groups)

    main = _on_multiples(order, firing_order)
    typical_db = float(np.median(height_db[main])) if main.any() else 0.0
    is_fainter = height_db < typical_db - _FAINTER_DB
    fainter = np.where(is_fainter, _SELDOM, _STRAY)
    unlike_odds = 0.0 if _shows_unlike(order, log_odds) else _IN_STEP
    likely = [
        # all cylinders unlike: every half order stands
        unlike_odds + _ALL_UNLIKE + of(np.full(order.size, _STANDS)),
        # the same, with some of the lines missing
        unlike_odds + _SOME_MISSING + of(np.full(order.size, _MAY_STAND)),
        # all cylinders alike: the firing order and its multiples, nothing between
        _ALIKE + of(np.where(main, _STANDS, _FAINT)) + smooth(main),
        # nearly alike: fainter lines between
        _NEARLY_ALIKE + of(np.where(main, _STANDS, fainter)) + smooth(main),
    ]
    if firing_order >= 2.0 and firing_order.is_integer():  # two banks, as in a vee or a boxer
        banks = _on_multiples(order, 0.5 * firing_order)
        # both banks heard, and unlike: they add up at the firing order, and cancel in part between
        unlike = np.where(main | (banks & is_fainter), _STANDS, _FAINT)
        likely.append(_UNLIKE_BANKS + of(unlike) + smooth(main, banks & ~main))
        if firing_order >= _FIRING_OF_TWO_PIPES:
            # one bank heard, by its own pipe
            likely.append(_ONE_BANK + of(np.where(banks, _STANDS, _FAINT)) + smooth(banks))
    return max(likely)


def _strays(profile: LineProfile, ratio: float) -> float:
    """How sure it is that lines stand well between half orders, as those of music do."""
    order = profile.orders / ratio
    between = _off_multiples(order, 0.5) > _SKIRTS
    stand = between & (profile.log_odds > _STRAYS_FROM)
    return float(profile.log_odds[stand].sum())


def _shows_unlike(order: FloatArray, log_odds: FloatArray) -> bool:
    """Whether lines stand between the multiples of every order above a half.

    Cylinders that differ have no reason to cancel at all of them.
    """
    stand = order[log_odds > _SURELY_STANDS]
    off = (_off_multiples(stand, step) > _ON_LINE for step in _STEPS)
    return all(between.any() for between in off)


def _smoothness(height_db: FloatArray, log_odds: FloatArray) -> float:
    """Odds that lines one after the other are those of one pulse, repeated evenly.

    The spectrum of one pulse is smooth, and over a drive the pipe lifts each line in its turn.
    Cylinders that differ add up otherwise at each order.
    """
    bend = height_db[1:-1] - 0.5 * (height_db[:-2] + height_db[2:])
    stand = log_odds > _SURELY_STANDS
    bend = bend[stand[:-2] & stand[1:-1] & stand[2:]]
    odds = np.log(_JAGGED_DB / _SMOOTH_DB) - 0.5 * bend**2 * (_SMOOTH_DB**-2 - _JAGGED_DB**-2)
    # smoothness alone proves little: some engines with unlike cylinders have it
    return float(np.clip(odds, _LEAST_OF_BEND, 0.0).sum())
