"""The microphones of this machine: listed, and one of them and its channels chosen."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import ModuleType
from typing import Any

from logger.errors import DeviceError

WASAPI = "Windows WASAPI"


@dataclass(frozen=True, slots=True, kw_only=True)
class MicrophoneFacts:
    """One line of the list of microphones."""

    index: int
    name: str
    host: str
    channel_count: int
    sample_rate_hz: int
    is_default: bool


# The card's number of ALSA, and what Windows puts before the name of a device in another socket.
_ALSA_NUMBER = re.compile(r" \(hw:\d+,\d+\)$")
_WINDOWS_NUMBER = re.compile(r"(^|\()\d{1,3}- ")


def lasting_name(facts: MicrophoneFacts) -> tuple[str, str]:
    """Name and host, without the numbers that another socket may change."""
    name = _ALSA_NUMBER.sub("", facts.name)
    if facts.host.startswith("Windows") or facts.host == "MME":
        name = _WINDOWS_NUMBER.sub(r"\1", name)
    return name, facts.host


def list_microphones(audio: ModuleType) -> tuple[MicrophoneFacts, ...]:
    """Every input of this machine.

    Raises
    ------
    DeviceError
        The sound system does not answer.
    """
    try:
        hosts = audio.query_hostapis()
        default = _default_input(audio, hosts)
        return tuple(
            MicrophoneFacts(
                index=index,
                name=str(device["name"]),
                host=str(hosts[device["hostapi"]]["name"]),
                channel_count=int(device["max_input_channels"]),
                sample_rate_hz=round(device["default_samplerate"]),
                is_default=index == default,
            )
            for index, device in enumerate(audio.query_devices())
            if device["max_input_channels"] > 0
        )
    except audio.PortAudioError as error:
        raise DeviceError(
            f"the sound system does not answer ({error}); check that its service is running"
        ) from error


def _default_input(audio: ModuleType, hosts: Sequence[Mapping[str, Any]]) -> int:
    """Index of the default input; on Windows through WASAPI, which knows the device's own rate."""
    # PortAudio's own default there is MME, which does not
    for host in hosts:
        if host["name"] == WASAPI and host["default_input_device"] >= 0:
            return int(host["default_input_device"])
    return int(audio.default.device[0])


def choose_channels(facts: MicrophoneFacts, wanted: tuple[int, ...] | None) -> tuple[int, ...]:
    """Take the wanted channels, or the first two; some drivers claim to have a hundred.

    Raises
    ------
    DeviceError
        The microphone has no such channel.
    """
    if wanted is None:
        return tuple(range(1, min(2, facts.channel_count) + 1))
    if max(wanted) > facts.channel_count:
        raise DeviceError(
            f"{facts.name!r} has {facts.channel_count} channel(s), not {max(wanted)}; choose "
            "another with --microphone, or other --channels"
        )
    return wanted


def choose_microphone(
    microphones: tuple[MicrophoneFacts, ...], wanted: str | None
) -> MicrophoneFacts:
    """Pick by index, by exact name, or by a part of a name that only one has.

    Raises
    ------
    DeviceError
        There is none, or more than one fits.
    """
    if not microphones:
        raise DeviceError(
            "no microphone was found: plug one in, see that this computer's sound settings show it "
            "and let programs record, then run pipenote check"
        )
    if wanted is None:
        return next((m for m in microphones if m.is_default), microphones[0])
    fitting = [m for m in microphones if wanted in (str(m.index), m.name)] or [
        m for m in microphones if wanted.casefold() in m.name.casefold()
    ]
    if len(fitting) != 1:
        found = "no microphone is" if not fitting else f"{len(fitting)} microphones are"
        raise DeviceError(
            f"{found} called {wanted!r}; pipenote check lists them, take one by its number"
        )
    return fitting[0]
