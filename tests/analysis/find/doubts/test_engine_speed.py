"""Another number of cylinders than was said is asked about where its firing order stands out."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
import pytest

from analysis.drive import Engine
from analysis.find.doubts.evidence import Evidence
from analysis.find.doubts.raised import doubts
from analysis.find.sound.order_tracking import ORDERS
from tests.analysis.find.doubts.good_drive import COUNT, GOOD, codes, heard, speed

BANK_OF_EIGHT = (0, 270, 450, 540)  # one bank of a cross-plane V8; common practice, no source


def fired_at(*degrees: float, said: int | None) -> Evidence:
    """Short pulses at these crank angles of a cycle; the sum of their phasors is Fourier's."""
    phasors = np.exp(-1j * np.outer(ORDERS, np.radians(degrees))).sum(axis=1)
    power = (np.abs(phasors) / len(degrees)) ** 2 + 0.02  # no two cylinders are quite alike
    frames = replace(
        GOOD.heard.frames,
        total_ms=np.tile(power + 0.01, (COUNT, 1)),
        background_ms=np.full((COUNT, ORDERS.size), 0.01),
    )
    engine = None if said is None else Engine(cylinders=said)
    return replace(heard(frames=frames), engine=engine)


def even(cylinders: int, *, said: int | None) -> Evidence:
    return fired_at(*np.arange(0.0, 720.0, 720.0 / cylinders), said=said)


@pytest.mark.parametrize(("true", "said"), [(4, 6), (6, 4), (4, 5), (5, 4), (8, 6), (3, 4)])
def test_a_wrong_number_of_cylinders_is_asked_about(true: int, said: int) -> None:
    (doubt,) = doubts(even(true, said=said))
    assert doubt.code == "other_cylinders"
    assert doubt.message.startswith(f"Does the engine have {said} cylinders?")
    assert doubt.message.endswith(f"import again with --cylinders {true}.")


@pytest.mark.parametrize("said", [3, 4, 5, 6, 8])
def test_the_right_number_is_not(said: int) -> None:
    assert codes(even(said, said=said)) == []


def test_nor_what_nobody_said_or_a_multiple_or_one_bank_of_eight() -> None:
    assert codes(even(4, said=None)) == []
    assert codes(even(3, said=6)) == []
    assert codes(fired_at(*BANK_OF_EIGHT, said=8)) == []


def test_a_log_that_is_wrong_asks_for_the_cylinders_itself() -> None:
    assert codes(replace(even(4, said=6), log_ratio=1.5)) == ["wrong_log"]


def test_road_speed_that_could_not_be_lined_up_is_told_where_it_was_logged() -> None:
    from_sound = speed(is_from_sound=True, delay=None)
    assert "telemetry_unaligned" not in codes(from_sound)
    on_road = replace(from_sound.driven, road_speed_m_s=np.full(COUNT, 20.0))
    assert "telemetry_unaligned" in codes(replace(from_sound, driven=on_road))
