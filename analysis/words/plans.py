"""Plans side by side, and the place kept for a second branch, in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.branches import Sizing, WeighedPlan
from analysis.words.lengths import length
from analysis.words.places import on_pipes, places_along

_NONE_OF_100 = 0.005  # a definition: rounds to none of 100
CURE = (
    f"the drone {-CURED_DB:.0f} dB quieter or more, and no other engine speed more than "
    f"{ELSEWHERE_DB:.0f} dB louder"
)
PLANS_HEAD = (
    "Plan",
    "Branches to weld",
    "Tube",
    "Drone after",
    "Cured at once",
    "After one adjustment",
)
ADJUSTED = (
    f"Of 100 exhausts that fit your car file and your drive, so many are cured: {CURE}. After the "
    "first drive with "
    "the branches, one adjustment: the sliding caps are moved, or the second branch is added at "
    "the place kept for it. The comparison says which, and how far."
)


def plan_name(legs: Sequence[tuple[str, ...]], *, keeps: bool) -> str:
    """Name a plan by the pipes of each of its branches: 'two branches on each pipe'."""
    first = legs[0]
    if len(legs) == 1:
        name = f"one branch {on_pipes(first)}" if first else "one branch"
    elif legs[0] == legs[1]:
        name = f"two branches {on_pipes(first)}" if first else "two branches"
    else:
        name = f"one branch {on_pipes(first)} and one {on_pipes(legs[1])}"
    return f"{name}, a place kept for a second" if keeps else name


def plan_row(plan: WeighedPlan) -> tuple[str, ...]:
    """Write one plan as a row under `PLANS_HEAD`."""
    ends = plan.level_change_db_range
    is_cure = plan.cured_adjusted_share > _NONE_OF_100  # what cures nothing nobody recommends
    return (
        f"{plan.name}{' (recommended)' if plan.is_chosen and is_cure else ''}",
        str(plan.welds),
        length(plan.tube_m),
        f"{plan.level_change_db:+.0f} dB ({ends.high:+.0f} to {ends.low:+.0f})",
        _of_100(plan.cured_now_share),
        _of_100(plan.cured_adjusted_share),
    )


def kept_words(sizing: Sizing) -> str | None:
    """Say which place to keep for a second branch, and how long that would be; None without."""
    kept = sizing.kept
    if kept is None:
        return None
    where = places_along([(length(kept.position_m or 0.0), kept.legs)])
    second = f"a second branch of about {length(kept.length_m)} may follow there"
    return f"keep the place at {where} free: {second}"


def chosen_plan(plans: Sequence[WeighedPlan]) -> WeighedPlan | None:
    """Give the plan that is recommended; None where none were weighed."""
    return next((plan for plan in plans if plan.is_chosen), None)


def plan_words(plans: Sequence[WeighedPlan]) -> str | None:
    """Say the recommended plan and what it cures; None where none were weighed."""
    chosen = chosen_plan(plans)
    if chosen is None:
        return None
    return f"{chosen.name.partition(',')[0]}: {odds(plans)}"


def odds(plans: Sequence[WeighedPlan]) -> str | None:
    """Say how often the recommended plan cures; None where none were weighed.

    Where a place is kept, what moving the cap cures is told apart from what a second branch adds.
    """
    chosen = chosen_plan(plans)
    if chosen is None:
        return None
    begin = (
        f"of 100 exhausts that could be yours it cures {_of_100(chosen.cured_now_share)} at once"
    )
    in_the_end = _of_100(chosen.cured_adjusted_share)
    same = (plan for plan in plans if plan.welds == chosen.welds and not plan.keeps_place)
    alone = next(same, None) if chosen.keeps_place else None
    if alone is None:
        return f"{begin}, {in_the_end} after one adjustment"
    return (
        f"{begin}, {_of_100(alone.cured_adjusted_share)} once the cap is moved, {in_the_end} if a "
        "second branch may follow"
    )


def what_more_buys(plans: Sequence[WeighedPlan]) -> Iterator[str]:
    """Say what more welds would bring than those recommended, or fewer."""
    chosen = chosen_plan(plans)
    others = [plan for plan in plans if chosen is not None and plan.welds != chosen.welds]
    if chosen is None or not others:
        return
    other = max(others, key=lambda plan: plan.cured_adjusted_share)
    if _odds(other) == _odds(chosen):
        return
    yield (
        f"{other.name[0].upper()}{other.name[1:]}, {other.welds} to weld instead of "
        f"{chosen.welds}, would cure {_of_100(other.cured_now_share)} of 100 at once instead of "
        f"{_of_100(chosen.cured_now_share)}, after one adjustment "
        f"{_of_100(other.cured_adjusted_share)} instead of {_of_100(chosen.cured_adjusted_share)}, "
        f"and change the drone by {other.level_change_db_range.high:+.1f} dB at worst "
        f"instead of {chosen.level_change_db_range.high:+.1f} dB."
    )


def _odds(plan: WeighedPlan) -> tuple[str, str]:
    return _of_100(plan.cured_now_share), _of_100(plan.cured_adjusted_share)


def _of_100(share: float) -> str:
    return f"{100.0 * share:.0f}"
