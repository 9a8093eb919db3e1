"""Find an exhaust drone in a recorded drive, size its cure, and prove that it worked.

Nothing in this package touches a microphone, a serial port or a sound file: it takes plain arrays
and pandas frames (:class:`analysis.drive.Drive`), and gives frozen results.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
