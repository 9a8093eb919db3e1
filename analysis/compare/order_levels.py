"""Every order over engine speed, in both drives."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from analysis.compare.match.pair import DrivePair
from analysis.compare.match.side_by_side import side_by_side
from analysis.verdicts import OrderBeforeAfter


def order_levels(pair: DrivePair) -> tuple[OrderBeforeAfter, ...]:
    """Orders that both drives hold somewhere, the lowest first."""
    return tuple(sorted(_held_by_both(pair), key=lambda order: order.engine_order))


def _held_by_both(pair: DrivePair) -> Iterator[OrderBeforeAfter]:
    for before in pair.baseline.curves:
        after = pair.postfix.curve(before.engine_order)
        laid = None if after is None else side_by_side(before, after)
        if laid is not None and laid.shared.any():
            before_db, after_db = laid.levels_db(pair.baseline.full_scale_db)
            yield OrderBeforeAfter(
                engine_order=before.engine_order,
                rpm=laid.shared_rpm,
                before_db=before_db,
                after_db=after_db,
            )
