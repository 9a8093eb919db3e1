"""Recording with real parts: a sound server, PortAudio, python-OBD, a process of its own."""
# SPDX-License-Identifier: GPL-2.0-or-later
