"""What got louder beside a drone, in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.verdicts import Louder
from analysis.words.quantities import decibel, number, rpm


def louder_words(louder: Louder) -> str:
    """E.g. 'from 900 to 1,340 rpm it is up to 4 dB louder, 9 dB less than the drone was'."""
    less = "less than" if louder.under_db > 0.0 else "more than"
    return (
        f"from {number(round(louder.low_rpm, -1))} to {rpm(louder.high_rpm)} it is up to "
        f"{decibel(louder.rise_db)} louder, there {decibel(abs(louder.under_db))} {less} the drone "
        "was"
    )
