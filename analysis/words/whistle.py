"""What is said of a new tone that stays put while engine speed changes."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.verdicts import Whistle


def whistle_words(whistle: Whistle) -> str:
    """Say where a tone is and what it may be."""
    return (
        f"{whistle.frequency_hz:.0f} Hz from {whistle.low_rpm:,.0f} to {whistle.high_rpm:,.0f} "
        f"rpm, {whistle.out_db:.0f} dB out of what is around it, and it does not follow engine "
        "speed: a branch may be singing in the gas stream. Round the edge of its hole, or change "
        "its place"
    )
