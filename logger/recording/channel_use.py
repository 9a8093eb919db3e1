"""Which channels of a recording are cabin sound, and which a source listens to."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from logger.sources.contract import RpmSource, SoundListener, SourceError


def pickup_channels(sources: Sequence[RpmSource], channel_count: int) -> tuple[int, ...]:
    """Give the channels that sources listen to, counted from 1, rising.

    Raises
    ------
    SourceError
        A source listens to a channel that is not recorded, or they leave none for the cabin.
    """
    taken: set[int] = set()
    for source in sources:
        if not isinstance(source, SoundListener):
            continue
        if source.channel > channel_count:
            raise SourceError(
                f"{source.name} listens to channel {source.channel} of the recording, which has "
                f"{channel_count}; record more with --channels, or choose another --microphone"
            )
        taken.add(source.channel)
    if len(taken) == channel_count:
        raise SourceError(
            "no channel is left for the sound of the cabin; record one more with --channels, with "
            "the microphone in it, or leave the pulse source out"
        )
    return tuple(sorted(taken))


def cabin_columns(listeners: Sequence[SoundListener], channel_count: int) -> list[int]:
    """Columns of the sound that no source listens to, from 0; all, when that leaves none."""
    taken = {listener.channel - 1 for listener in listeners}
    return [at for at in range(channel_count) if at not in taken] or list(range(channel_count))
