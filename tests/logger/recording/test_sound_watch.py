"""When silence counts as a lost microphone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest

from logger.recording.sound_watch import SoundWatch
from logger.recording.trouble_log import TroubleLog

LOOK_EVERY_S = 0.2


@pytest.mark.parametrize(
    ("taken_after_s", "noticed_after_s"),
    [
        (0.0, 2.0),
        (0.9, 2.0),  # the last sound, handed over a little late
        (30.0, 32.0),  # sound that a slow disk held up: what came after it is not known yet
    ],
)
def test_microphone_is_gone_two_seconds_after_its_last_sound(
    taken_after_s: float, noticed_after_s: float
) -> None:
    watch = SoundWatch(TroubleLog())
    now_s = taken_after_s
    watch.hear(0.0, now_s, 0.0)
    while not watch.fell_silent(now_s):
        now_s += LOOK_EVERY_S
    assert now_s == pytest.approx(noticed_after_s, abs=1.5 * LOOK_EVERY_S)


def test_who_stood_still_cannot_tell_whether_it_was_silent() -> None:
    watch = SoundWatch(TroubleLog())
    watch.hear(0.0, 0.0, 0.0)
    assert not watch.fell_silent(0.2)
    assert not watch.fell_silent(60.0)
    assert not watch.fell_silent(60.2)


def test_another_microphone_in_its_place_is_trouble_until_it_is_back() -> None:
    log = TroubleLog()
    watch = SoundWatch(log)
    for at_s, behind in enumerate(("", "usb", "usb", "", "lid", "lid", "usb", "usb")):
        watch.note_behind(behind, float(at_s))
    (told,) = log.all
    assert (told.code, told.start_s, told.duration_s) == ("microphone_changed", 4.0, 2.0)
    assert "from lid and no longer from usb" in told.message
    assert watch.state(has_begun=True).words == ""
