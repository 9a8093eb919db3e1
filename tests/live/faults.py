"""Faults of a sound system that a recording must live through, each by its name.

Each strikes a scene: a sound server with our card and a loudspeaker on it, and a drive that is
being recorded from the card. Used by the live tests and by the table of all faults.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from tests.live.in_step import Signals
from tests.live.recording import Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import wait_until

MICROPHONE, LOUDSPEAKER, DEFAULT = "cabin", "loudspeaker", "whatever"
"""As PortAudio lists them: our card, what the loudspeaker plays, and whatever is set."""
NAMES = {MICROPHONE: MICROPHONE, LOUDSPEAKER: f"{LOUDSPEAKER}.monitor", DEFAULT: ""}
RATE_HZ = 44100
OTHER_RATES_HZ = (16000, 32000, 48000)
NAMED_AFTER_S = 6.0  # by then the recorder has asked what its sound comes from
_STEADY_S = 4.0  # a change is only told after sound that was as steady as a drive's
_OTHER_NOISE = 0.03  # full scale 1: 30 dB above that of our card


@dataclass
class Scene:
    """A drive that is being recorded, and all that may go wrong with it."""

    server: SoundServer
    card: SoundCard
    recording: Recording

    def told(self, codes: frozenset[str]) -> bool:
        """Whether any of these troubles is in the session's list."""
        return not codes.isdisjoint(self.recording.trouble())

    def move_to(self, source: str) -> None:
        """Move the recorder's stream to another source, as a person does in the settings."""
        (output,) = self.server.control("list", "short", "source-outputs").splitlines()
        self.server.control("move-source-output", output.split()[0], source)


@dataclass(frozen=True)
class SoundFault:
    """One kind of fault.

    Attributes
    ----------
    codes : frozenset of str
        Troubles of which one must be told.
    from_name : str
        Which microphone is recorded.
    at_least_s : float
        So much must be recorded before.
    quiet_s : float
        So long nothing is played before it.
    """

    name: str
    strike: Callable[[Scene], None]
    mend: Callable[[Scene], None]
    codes: frozenset[str]
    from_name: str = MICROPHONE
    at_least_s: float = 0.0
    quiet_s: float = 0.0


def _moved(scene: Scene) -> None:
    scene.move_to(f"{LOUDSPEAKER}.monitor")


def _moved_back(scene: Scene) -> None:
    scene.move_to(scene.card.name)


def _server_killed(scene: Scene) -> None:
    scene.server.die()


def _server_back(scene: Scene) -> None:
    scene.server.start()
    scene.server.load("module-null-sink", f"sink_name={LOUDSPEAKER}", "rate=48000", "channels=1")
    scene.card.be_lost()
    scene.card.plug_in()


def _frozen(scene: Scene) -> None:
    scene.server.stand_still()


def _goes_on(scene: Scene) -> None:
    scene.server.go_on()


def _default_changed(scene: Scene) -> None:
    scene.server.control("set-default-source", f"{LOUDSPEAKER}.monitor")


def _default_back(scene: Scene) -> None:
    scene.server.control("set-default-source", scene.card.name)


def _unplugged(scene: Scene) -> None:
    scene.card.unplug()


def _plugged_in(scene: Scene) -> None:
    scene.card.plug_in()


def _plugged_in_at_another_rate(scene: Scene) -> None:
    rates_hz = [rate_hz for rate_hz in OTHER_RATES_HZ if rate_hz != scene.card.rate_hz]
    scene.card.plug_in(rates_hz[len(scene.recording.trouble()) % len(rates_hz)])


def _muted(scene: Scene) -> None:
    scene.server.control("set-source-mute", scene.card.name, "1")


def _heard_again(scene: Scene) -> None:
    scene.server.control("set-source-mute", scene.card.name, "0")


def _another_in_its_place(scene: Scene) -> None:
    scene.card.noise = _OTHER_NOISE  # by the same name, and without a gap


def _nothing(scene: Scene) -> None:
    del scene


# a sound server may put another source in the place of one that went, which is told as a change
_LOST = frozenset({"microphone_lost"})
_CHANGED = frozenset({"microphone_changed"})
SOUND_FAULTS = (
    SoundFault("stream moved", _moved, _moved_back, _CHANGED, at_least_s=NAMED_AFTER_S),
    SoundFault("server killed", _server_killed, _server_back, _LOST),
    SoundFault("server frozen", _frozen, _goes_on, _LOST),
    SoundFault(
        "default changed", _default_changed, _default_back, _CHANGED, DEFAULT, NAMED_AFTER_S
    ),
    SoundFault("rate changed", _unplugged, _plugged_in_at_another_rate, _LOST | _CHANGED),
    SoundFault("muted", _muted, _heard_again, frozenset({"no_signal"})),
    SoundFault("unplugged", _unplugged, _plugged_in, _LOST | _CHANGED),
    SoundFault(
        "other microphone",
        _another_in_its_place,
        _nothing,
        frozenset({"sound_changed"}),
        quiet_s=_STEADY_S,
    ),
)


def live_through(fault: SoundFault, scene: Scene, signals: Signals, goes_on_s: float) -> bool:
    """Strike and mend, with a signal before and behind; tells whether the fault was told.

    ``goes_on_s`` is how long it lasts after it was told.
    """
    recording = scene.recording
    recording.wait_for_sound(fault.at_least_s + 1.0)
    signals.play(scene.card)
    threading.Event().wait(fault.quiet_s)
    fault.strike(scene)
    try:
        wait_until(lambda: scene.told(fault.codes), recording.said)
        is_told = True
    except AssertionError:
        is_told = False
    threading.Event().wait(goes_on_s)
    fault.mend(scene)
    recording.wait_for_sound(2.0)
    signals.play(scene.card)
    recording.stop()
    return is_told
