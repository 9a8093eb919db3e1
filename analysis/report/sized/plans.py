"""Plans side by side: what each takes, and what it cures at once and after one adjustment."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Sizing
from analysis.report.blocks import Section, Table, Text
from analysis.words.plans import ADJUSTED, PLANS_HEAD, kept_words, plan_row, what_more_buys
from analysis.words.sentences import sentence


def plans_section(sizing: Sizing | None) -> Section | None:
    """Lay the plans side by side; None where none were weighed."""
    if sizing is None or not sizing.plans:
        return None
    kept = kept_words(sizing)
    table = Table(
        caption="What was weighed, fewest welds first",
        head=PLANS_HEAD,
        rows=tuple(map(plan_row, sizing.plans)),
    )
    return Section(
        name="plans",
        title="Plans side by side",
        blocks=(
            table,
            Text(text=ADJUSTED),
            *(Text(text=told) for told in what_more_buys(sizing.plans)),
            *([] if kept is None else [Text(text=sentence(kept))]),
        ),
    )
