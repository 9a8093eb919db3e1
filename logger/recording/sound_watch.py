"""What becomes of the sound: the microphone is there, gone, or back, and what is missing."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from logger.folder.gaps import SoundGap
from logger.recording.floor_watch import FloorChange
from logger.recording.status import DeviceState, Light
from logger.recording.trouble_log import TroubleLog

_SOUND = "sound"
_ZEROS = "zeros"
_BEHIND = "behind"
_ZEROS_S = 1.0  # judgement: shorter tells the click of a cable; it moves no answer
_SILENT_AFTER_S = 2.0  # no block for so long: the microphone is gone
_STOOD_STILL_S = 1.0  # the loop turns five times a second
_ONE_BURST_S = 1.0  # judgement: what is repeated within it is told as one
_JUDGED_AFTER_S = 5.0  # by then a gap would have been told; judgement: only what is told


class SoundWatch:
    """Notes in a log of trouble what the recorder finds out about its sound."""

    def __init__(self, trouble: TroubleLog) -> None:
        self.is_lost = False
        self._trouble = trouble
        self._heard_s = -math.inf
        self._back_s = -math.inf  # on the session's clock
        self._watched_s = math.inf
        self._zeros_from_s = math.inf
        self._behind = ""
        self._repeated_s = 0.0
        self._repeated_at_s = -math.inf
        self._repeated_trouble = -1
        self._gap_after_frame = -1
        self._gap_trouble: int | None = None

    def hear(self, arrived_s: float, now_s: float, session_now_s: float) -> bool:
        """Note that a block was taken; tells whether the microphone had been lost."""
        was_lost, self.is_lost = self.is_lost, False
        # one that has waited for long was held up by a slow disk, and newer ones come after it
        self._heard_s = arrived_s if now_s - arrived_s < _SILENT_AFTER_S else now_s
        if was_lost:
            self._back_s = session_now_s
        return was_lost

    def fell_silent(self, now_s: float) -> bool:
        """Tell whether the microphone is gone and nobody noticed yet."""
        if now_s - self._watched_s > _STOOD_STILL_S:  # who did not listen cannot tell
            self._heard_s = max(self._heard_s, now_s)
        self._watched_s = now_s
        return not self.is_lost and now_s - self._heard_s > _SILENT_AFTER_S

    def note_loss(self, elapsed_s: float) -> None:
        """Note that the microphone is gone; ``elapsed_s`` is the end of the sound so far."""
        self.is_lost = True
        self._trouble.begin(
            _SOUND,
            "microphone_lost",
            "the microphone stopped; plug it in again, and recording goes on by itself",
            elapsed_s,
        )

    def look(self, session_now_s: float, refusal: str) -> None:
        """Note that the microphone is back and not to be used, or that it was only late."""
        if self.is_lost and refusal not in ("", self._trouble.words(_SOUND)):
            self._trouble.begin(_SOUND, "microphone_refused", refusal, session_now_s)
        elif session_now_s - self._back_s > _JUDGED_AFTER_S:
            self.end_if_back()

    def end_if_back(self) -> None:
        """Let trouble end with the return of the sound: it was late, and nothing is missing."""
        if not self.is_lost:
            self._trouble.end(_SOUND, self._back_s)

    def note_gap(self, gap: SoundGap, end_s: float) -> None:
        """Note that sound is missing until session time ``end_s``."""
        lost = (
            f"about {1000.0 * gap.duration_s:.0f} ms of sound are missing; close other programs"
            if gap.duration_s > 0.0
            else "sound seemed lost, and came late; nothing of it is missing"
        )
        is_longer = gap.after_frame == self._gap_after_frame
        self._gap_after_frame = gap.after_frame
        # a lost microphone has been told already: its gap is where that ends
        if self._trouble.words(_SOUND):
            self._gap_trouble = self._trouble.end(_SOUND, end_s)
        # more is missing at the same place than the clock saw at first: one trouble, not two
        elif is_longer and self._gap_trouble is not None:
            self._trouble.correct(self._gap_trouble, lost, end_s)
        else:
            start_s = end_s - gap.duration_s
            self._gap_trouble = self._trouble.note("sound_lost", lost, start_s, gap.duration_s)
        self._trouble.has_news = True

    def note_repeated(self, repeated_s: float, at_s: float) -> None:
        """Note that sound was left out, as it came before it could be heard."""
        if at_s - self._repeated_at_s > _ONE_BURST_S:
            self._repeated_s = 0.0
            self._repeated_trouble = self._trouble.note("sound_repeated", "", at_s)
        self._repeated_at_s = at_s
        self._repeated_s += repeated_s
        self._trouble.reword(
            self._repeated_trouble,
            f"the sound system gave about {1000.0 * self._repeated_s:.0f} ms of sound twice, which "
            "were left out; do not change the sound settings during the drive",
        )

    def note_change(self, change: FloorChange) -> None:
        """Note that the sound itself changed within a moment."""
        self._trouble.note(
            "sound_changed",
            f"the sound changed by {change.by_db:+.0f} dB within a moment, at all or at all high "
            "pitches, as when another microphone takes its place, its gain is turned or a hand "
            "lies on it; look at the microphone, and record again if it is so",
            change.at_s,
        )

    def note_pace(self, fast_ppm: float) -> None:
        """Note that the sound came faster or slower than any sound card's clock runs."""
        percent = 1e-4 * abs(fast_ppm)
        if fast_ppm < 0.0:
            message = (
                f"{percent:.2g} % of the sound is missing, in pieces too small to be seen one by "
                "one; close other programs, and record again"
            )
        else:
            message = (
                f"the microphone gave {percent:.2g} % more sound than its rate allows; set its "
                "rate in the sound settings, or choose another with --microphone"
            )
        self._trouble.note("sound_pace", message, None)

    def note_zeros(self, *, are_zeros: bool, start_s: float, end_s: float) -> None:
        """Note sound from ``start_s`` to ``end_s``; no microphone gives exact zeros for long."""
        if not are_zeros:
            if self._trouble.end(_ZEROS, start_s) is not None:
                self._trouble.has_news = True
            self._zeros_from_s = math.inf
            return
        self._zeros_from_s = min(self._zeros_from_s, start_s)
        if end_s - self._zeros_from_s >= _ZEROS_S and not self._trouble.words(_ZEROS):
            self._trouble.begin(
                _ZEROS,
                "no_signal",
                "every sample was zero: the microphone is muted, or another device was put in its "
                "place; look at the sound settings, and allow this program to use the microphone",
                self._zeros_from_s,
            )

    def note_behind(self, behind: str, start_s: float) -> None:
        """Note which device the sound comes from; empty where nobody can tell."""
        if not behind:
            return
        self._behind = self._behind or behind
        if behind == self._behind:
            self._trouble.end(_BEHIND, start_s)
        # this is asked with every block, and told once for each device
        elif behind not in self._trouble.words(_BEHIND):
            self._trouble.begin(
                _BEHIND,
                "microphone_changed",
                f"the sound came from {behind} and no longer from {self._behind}; levels do not go "
                "together: set the microphone back in the sound settings, or record again",
                start_s,
            )

    def end_zeros(self, end_s: float) -> None:
        """Note that the recording ended."""
        self._trouble.end(_ZEROS, end_s)
        self._trouble.end(_BEHIND, end_s)

    def state(self, *, has_begun: bool) -> DeviceState:
        """How the microphone does; ``has_begun`` once there is sound."""
        late, *wrong = map(self._trouble.words, (_SOUND, _ZEROS, _BEHIND))
        light = Light.GOOD if has_begun else Light.WAITING
        if self.is_lost or any(wrong):
            light = Light.LOST
        words = next(filter(None, (late, *wrong)), "")
        return DeviceState(name=_SOUND, light=light, readings_per_s=None, words=words)
