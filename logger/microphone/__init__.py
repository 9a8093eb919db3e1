"""The microphone: blocks of sound, what level they stand for, and what may be wrong with it.

Takes a device's name, calibration and response files.
Gives sound blocks with their time of arrival, dB SPL of full scale, faults.
Knows nothing of sessions, rpm or screens.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
