"""PortAudio, the library behind every microphone: loaded when one is wanted, and started anew."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import sys
from types import ModuleType

from logger.errors import DeviceError

_CURES = {
    "linux": "install it with: sudo apt install libportaudio2 (or your system's own package)",
    "darwin": "install it with: brew install portaudio",
    "win32": "install pipenote again with: python -m pip install --force-reinstall sounddevice",
}


def load_portaudio() -> ModuleType:
    """Import sounddevice, and PortAudio with it, only when a microphone is wanted.

    Raises
    ------
    DeviceError
        PortAudio is missing; the message says how to install it here.
    """
    try:
        import sounddevice  # without PortAudio this raises OSError, at import
    except (ImportError, OSError) as error:
        cure = _CURES.get(sys.platform, "install PortAudio with your system's package manager")
        raise DeviceError(
            f"live recording needs the PortAudio library, which is missing; {cure}"
        ) from error
    return sounddevice  # type: ignore[no-any-return]


def restart_portaudio(audio: ModuleType) -> None:
    """Start the library anew, which makes its list of devices anew; no stream may be open."""
    # sounddevice documents these two for this very purpose
    with contextlib.suppress(audio.PortAudioError):  # it did not start the last time
        audio._terminate()
    audio._initialize()
