"""Rpm from an ignition pickup, recorded beside the cabin sound.

Takes blocks of sound.
Gives readings, and doubts about the pickup in words.
Knows nothing of other sources, or of the microphone's device.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
