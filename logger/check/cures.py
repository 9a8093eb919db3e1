"""What to do about a device that fails, in the words of this computer's system.

The names of settings are from memory: common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import sys
from enum import StrEnum


class Cure(StrEnum):
    """What there is to cure."""

    SILENT = "silent"
    NO_SOUND = "no sound"
    GAIN = "gain"
    LEVEL = "level"
    NO_PORT = "no port"


_SETTING = {
    Cure.SILENT: {
        "linux": "unmute it in the sound settings (or with alsamixer, F4), and look whether a "
        "switch on it is off",
        "darwin": "allow this terminal under System Settings, Privacy & Security, Microphone; "
        "then close the terminal and open it again",
        "win32": "allow desktop apps under Settings, Privacy & security, Microphone, and unmute it "
        "under Settings, System, Sound",
    },
    Cure.NO_SOUND: {
        "linux": "close other programs that use it, plug it in again, and look whether pactl list "
        "sources short shows it",
        "darwin": "close other programs that use it, plug it in again, and allow this terminal "
        "under System Settings, Privacy & Security, Microphone",
        "win32": "close other programs that use it, plug it in again, and allow desktop apps under "
        "Settings, Privacy & security, Microphone",
    },
    Cure.GAIN: {
        "linux": "switch automatic gain and noise suppression off in alsamixer (F4) or the sound "
        "settings, or take another microphone",
        "darwin": "choose Standard as the microphone mode in the menu bar, or take another "
        "microphone",
        "win32": "switch audio enhancements off under Settings, System, Sound, this microphone, or "
        "take another microphone",
    },
    Cure.LEVEL: {
        "linux": "set the capture level in the sound settings, or with alsamixer (F4)",
        "darwin": "set the input volume under System Settings, Sound, Input",
        "win32": "set the input volume under Settings, System, Sound, this microphone",
    },
    Cure.NO_PORT: {
        "linux": "plug the adapter in and look whether dmesg names a new tty; a Bluetooth one "
        "needs rfcomm first",
        "darwin": "plug the adapter in; if no /dev/cu... port appears, install the driver of its "
        "serial chip",
        "win32": "plug the adapter in and look for a COM port in the Device Manager; if one has a "
        "warning sign, install the driver of its serial chip",
    },
}


def cure_for(what: Cure, platform: str = sys.platform) -> str:
    """One half-sentence that says what to do here."""
    words = _SETTING[what]
    return words.get(platform, words["linux"])
