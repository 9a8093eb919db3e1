"""What branches should do to the drone: one sentence for terminal, page and sheets."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Prediction
from analysis.words.quantities import decibel, number, quieter, quieter_between


def foretold(predicted: Prediction) -> str:
    """E.g. 'about 14 dB quieter (6.5 to 18.0 dB over the credible cases)'."""
    span = predicted.level_change_db_range
    cases = quieter_between(span.low, span.high)
    if span.high < 0.0:
        cases = f"{number(-span.high, 1)} to {decibel(-span.low, 1)}"
    return f"about {quieter(predicted.level_change_db)} ({cases} over the credible cases)"
