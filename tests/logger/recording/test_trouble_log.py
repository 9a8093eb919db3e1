"""What the screen says of trouble while it lasts, and after it is over."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from logger.recording.trouble_log import TroubleLog


def test_trouble_is_told_while_it_lasts_and_a_moment_after_it() -> None:
    log = TroubleLog()
    assert log.newest(0.0) == ""
    log.begin("obd", "telemetry_lost", "the adapter is gone", 10.0)
    assert log.newest(500.0) == "the adapter is gone"
    log.end("obd", 510.0)
    assert log.newest(512.0) == "the adapter is gone"
    assert log.newest(520.0) == ""


def test_what_goes_on_is_told_before_what_was_a_moment() -> None:
    log = TroubleLog()
    log.begin("obd", "telemetry_lost", "the adapter is gone", 10.0)
    log.note("sound_lost", "50 ms are missing", 20.0, 0.05)
    assert log.newest(21.0) == "the adapter is gone"
    log.end("obd", 22.0)
    assert log.newest(23.0) == "50 ms are missing"
    assert log.newest(40.0) == ""
