"""The drone to listen to: with the branches as a model, or before and after the work."""
# SPDX-License-Identifier: GPL-2.0-or-later

import io
import wave

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.listen.two_drives import BothDrives, Heard
from analysis.listen.with_branches import Listening
from analysis.report.blocks import Clip, Clips, Section, Text
from analysis.words import quantities as words

_FULL_SCALE = 2**15 - 1  # of 16 bits, by definition
_ALIKE = 0.02  # of engine speed; judgement: closer than this the ear takes two speeds for one
_SPEAKERS = (
    "Use headphones or good speakers, and leave the volume alone between the two: a telephone's "
    "own hardly play a drone."
)


def hear_section(heard: Listening | BothDrives | None) -> Section | None:
    """Let it be heard; None where there is nothing to hear."""
    if heard is None:
        return None
    if isinstance(heard, BothDrives):
        clips, said = _both(heard)
    else:
        clips, said = _model(heard)
    blocks = (Clips(clips=clips), Text(text=f"{said} {_SPEAKERS}"))
    return Section(name="hear", title="Hear the difference", blocks=blocks)


def _model(heard: Listening) -> tuple[tuple[Clip, ...], str]:
    low, high = heard.rpm
    return (
        Clip(label="As recorded", wav=_wav(heard.as_recorded, heard.rate_hz)),
        Clip(
            label="With what is to be built: a model",
            wav=_wav(heard.with_branches, heard.rate_hz),
        ),
    ), (
        f"Ten seconds from {heard.start_s:.0f} s on, {words.rpm(low)} to {words.rpm(high)}. The "
        "second piece was never recorded: it is the first one, with each engine order turned down "
        "by what the sizing predicts for its frequency, and all else left as it was. Both play at "
        "one loudness scale."
    )


def _both(heard: BothDrives) -> tuple[tuple[Clip, ...], str]:
    pieces = {"Before: the baseline": heard.baseline, "After: the post-fix drive": heard.postfix}
    clips = tuple(
        Clip(label=label, wav=_wav(each.samples, heard.rate_hz)) for label, each in pieces.items()
    )
    said = (
        f"Ten seconds of each drive at the drone: {_where(heard.baseline)} of the baseline, "
        f"{_where(heard.postfix)} of the post-fix drive. Both are as recorded and were made louder "
        "by one and the same factor, so what you hear between them is the real difference."
    )
    if heard.gain_db:
        said += (
            f" Only the {words.quieter(heard.gain_db)} that gain or microphone place made of the "
            "whole post-fix recording is taken off it, as in the figures."
        )
    if heard.rpm_apart > _ALIKE:
        said += (
            " The two were not driven at one pace: from moment to moment their engine speeds are "
            f"{100.0 * heard.rpm_apart:.0f} % apart."
        )
    return clips, said


def _where(piece: Heard) -> str:
    low, high = piece.rpm
    return f"from {piece.start_s:.0f} s on, {words.rpm(low)} to {words.rpm(high)},"


def _wav(samples: FloatArray, rate_hz: float) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(round(rate_hz))
        file.writeframes(np.round(_FULL_SCALE * samples).astype("<i2").tobytes())
    return out.getvalue()
