"""What to look for under the car before a branch is built into room that nobody told of."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.build.workshop.outline import taken
from analysis.build.workshop.plan import BuildPlan
from analysis.words.lengths import length


def fit_words(build: BuildPlan) -> str | None:
    """Say what to look for; None where the room was told, or nothing reaches beyond it."""
    if not is_assumed(build):
        return None
    if any(plan.fold.turn_rad for plan in build.branches):
        ways = "towards the tail or the engine, " if len(build.branches) == 1 else ""
        why = (
            "Nobody said how far out from the pipe there is room, so it is bent to lie beside the "
            f"pipe, {ways}as most cars need"
        )
    else:
        reach = length(build.room.reach_m)
        why = f"It is straight, which fits few cars, for no usual bend keeps within {reach}"
    return f"{why}: look for {needed(build)} the pipe"


def is_assumed(build: BuildPlan) -> bool:
    """Whether a branch reaches out beside the pipe into room that nobody told of."""
    reach_m = build.room.reach_m
    return not build.room.is_told and any(
        plan.fold.turn_rad or taken(plan).out_m > reach_m for plan in build.branches
    )


def needed(build: BuildPlan) -> str:
    """Say how much room the branches take at most, caps pulled out."""
    every = [taken(plan) for plan in build.branches]
    out_m, along_m = max(each.out_m for each in every), max(each.along_m for each in every)
    return f"{length(out_m)} out and {length(along_m)} along"
