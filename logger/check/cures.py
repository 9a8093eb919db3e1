"""What to do about a device that fails, in the words of this computer's system."""
# SPDX-License-Identifier: GPL-2.0-or-later

import sys
from enum import StrEnum

from logger.software import own_table


class Cure(StrEnum):
    """What there is to cure; the words are in ``cures.toml``."""

    SILENT = "silent"
    NO_SOUND = "no sound"
    GAIN = "gain"
    LEVEL = "level"
    NO_PORT = "no port"


def cure_for(what: Cure, platform: str = sys.platform) -> str:
    """One half-sentence that says what to do here."""
    words = own_table("logger.check", "cures")[what]
    return str(words.get(platform, words["linux"]))
