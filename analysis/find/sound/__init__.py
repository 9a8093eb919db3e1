"""What a microphone heard, by time, frequency and engine order.

Takes sound in blocks, and engine speed over time.
Gives a working copy at a low rate, order frames, level maps, overall and wide-band levels.
Knows nothing of gears, passes or bands.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
