"""The drone to listen to, as recorded and as it should sound with the branches."""
# SPDX-License-Identifier: GPL-2.0-or-later

import io
import wave

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.listen.with_branches import Listening
from analysis.report.blocks import Clip, Clips, Section, Text
from analysis.words import quantities as words

_FULL_SCALE = 2**15 - 1  # of 16 bits, by definition


def hear_section(heard: Listening | None) -> Section | None:
    """Let it be heard; None where there is nothing to hear."""
    if heard is None:
        return None
    clips = Clips(
        clips=(
            Clip(label="As recorded", wav=_wav(heard.as_recorded, heard.rate_hz)),
            Clip(label="With the branches: a model", wav=_wav(heard.with_branches, heard.rate_hz)),
        )
    )
    low, high = heard.rpm
    said = (
        f"Ten seconds from {heard.start_s:.0f} s on, {words.rpm(low)} to {words.rpm(high)}. The "
        "second piece was never recorded: it is the first one, with each engine order turned down "
        "by what the sizing predicts for its frequency, and all else left as it was. Both play at "
        "one loudness scale. Use headphones or good speakers: a telephone's own hardly play a "
        "drone."
    )
    return Section(name="hear", title="Hear the difference", blocks=(clips, Text(text=said)))


def _wav(samples: FloatArray, rate_hz: float) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(round(rate_hz))
        file.writeframes(np.round(_FULL_SCALE * samples).astype("<i2").tobytes())
    return out.getvalue()
