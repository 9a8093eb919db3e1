"""One thread for each source, so that a slow or dead one holds up neither sound nor the others."""
# SPDX-License-Identifier: GPL-2.0-or-later

import threading
import time
from queue import Empty, SimpleQueue

from logger.sources.contract import Reading, RpmSource, SourceTrouble

_READ_S = 0.2  # judgement: how soon a thread can be ended; no reading waits for it
# a source that gives nothing at once must not take the processor from the sound; judgement: adds at
# most this to a reading's interval
_PAUSE_S = 0.01
_GOODBYE_S = 2.0


class SourceThread:
    """Reads one source until it is closed; the recorder takes the events when it likes."""

    def __init__(self, source: RpmSource) -> None:
        self.source = source
        self._events: SimpleQueue[Reading | SourceTrouble] = SimpleQueue()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=source.name, daemon=True)

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def events(self) -> list[Reading | SourceTrouble]:
        """Take what came since the last call."""
        taken: list[Reading | SourceTrouble] = []
        while True:
            try:
                taken.append(self._events.get_nowait())
            except Empty:
                return taken

    def close(self) -> None:
        """Stop reading and let the device go; one that hangs is left behind."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(_GOODBYE_S)

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                event = self.source.read(_READ_S)
                if event is None:
                    self._stop.wait(_PAUSE_S)
                else:
                    self._events.put(event)
            self.source.close()
        except Exception as error:  # other people's code; the recording must go on
            self._events.put(
                SourceTrouble(
                    code="source_ended",
                    message=f"{self.source.name} broke down ({type(error).__name__}: {error}); "
                    "nothing more comes from it. Tell its maker",
                    at_s=time.perf_counter(),
                )
            )
