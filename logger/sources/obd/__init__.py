"""Rpm and load from a car's diagnostic socket.

Takes ``auto``, a port or an address.
Gives readings of answers that came whole, and what to do where none comes.
Knows nothing of other sources.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
