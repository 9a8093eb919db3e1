"""A private PulseAudio, and ALSA devices that PortAudio finds by name.

Everything is in one folder: socket, configuration, home. The sound system of the machine, if it
has one, is neither asked nor changed.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType

_TOOLS = ("pulseaudio", "pactl", "pacat")
_START_WITHIN_S = 20.0
_ANSWER_WITHIN_S = 20.0
_ALSA = Path("/usr/share/alsa/alsa.conf")
_PLUGIN = "libasound_module_pcm_pulse.so"


class NoSoundServerError(Exception):
    """There is no PulseAudio here, or it does not start; the message says what is missing."""


def missing_parts() -> str:
    """Name what is not installed; empty when everything is there."""
    missing = [tool for tool in _TOOLS if shutil.which(tool) is None]
    places = ("lib*/alsa-lib", "lib*/*/alsa-lib")
    if not any(list(Path("/usr").glob(f"{place}/{_PLUGIN}")) for place in places):
        missing.append(_PLUGIN)
    if not _ALSA.exists():
        missing.append(str(_ALSA))
    return ", ".join(missing)


class SoundServer:
    """A running PulseAudio without any device; a context manager.

    Parameters
    ----------
    microphones : Mapping
        From names, as PortAudio shall list them, to sources of PulseAudio that may come and go;
        an empty one stands for whatever is the default.

    Attributes
    ----------
    folder : Path
        For whatever belongs to it.
    environment : dict
        For processes that shall use it.
    """

    def __init__(self, folder: Path, microphones: Mapping[str, str]) -> None:
        self.folder = folder
        self.environment = os.environ | {
            "ALSA_CONFIG_PATH": str(folder / "alsa.conf"),
            "HOME": str(folder),
            "OPENBLAS_NUM_THREADS": "1",
            "PULSE_RUNTIME_PATH": str(folder),
            "PULSE_SERVER": f"unix:{folder}/native",
            "XDG_CONFIG_HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
        }
        devices = (
            f'pcm.{name} {{ type pulse {_of(source)} hint {{ show on description "{name}" }} }}'
            for name, source in microphones.items()
        )
        (folder / "alsa.conf").write_text("\n".join((f"<{_ALSA}>", *devices, "")))

    def __enter__(self) -> SoundServer:
        self.start()
        return self

    def start(self) -> None:
        """Start, also after :meth:`die`; nothing is left of what was loaded before."""
        socket = f"module-native-protocol-unix socket={self.folder}/native auth-anonymous=1"
        command = ["pulseaudio", "-n", "--daemonize=no", "--disable-shm=yes", "-L", socket]
        command += ["--exit-idle-time=180"]  # not for ever, should the tests be killed
        self._errors = (self.folder / "errors.txt").open("wb")
        self._process = subprocess.Popen(command, env=self.environment, stderr=self._errors)
        never, end_s = threading.Event(), time.monotonic() + _START_WITHIN_S
        while not self._answers():
            if self._process.poll() is not None or time.monotonic() > end_s:
                self._end()
                raise NoSoundServerError((self.folder / "errors.txt").read_text(errors="replace"))
            never.wait(0.05)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._end()

    def control(self, *words: str) -> str:
        """Run ``pactl`` and give what it says."""
        done = subprocess.run(
            ["pactl", *words],
            env=self.environment,
            timeout=_ANSWER_WITHIN_S,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, f"pactl {' '.join(words)}: {done.stderr}"
        return done.stdout.strip()

    def load(self, *words: str) -> str:
        """Load a module and give the number to unload it by."""
        return self.control("load-module", *words)

    def die(self) -> None:
        """End at once, as a sound system that crashes; :meth:`start` starts another."""
        self._end()

    def stand_still(self) -> None:
        """Stop as a sound system that hangs; :meth:`go_on` ends it."""
        self._process.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        """Run again."""
        self._process.send_signal(signal.SIGCONT)

    def _answers(self) -> bool:
        try:
            return (
                subprocess.run(
                    ["pactl", "info"],
                    env=self.environment,
                    timeout=_START_WITHIN_S,
                    capture_output=True,
                    check=False,
                ).returncode
                == 0
            )
        except subprocess.TimeoutExpired:
            return False

    def _end(self) -> None:
        self._process.kill()  # also when it stands still
        self._process.wait(timeout=_ANSWER_WITHIN_S)
        self._errors.close()


def _of(source: str) -> str:
    return f'device "{source}"' if source else ""
