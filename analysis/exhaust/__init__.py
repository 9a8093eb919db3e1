"""The exhaust of one car: what its owner knows of it, and guesses at what it truly is.

Takes a car file, and a drone's level over engine speed.
Gives sections, room and gas as told, and many exhausts that would sound as the drive did.
Knows nothing of sound, bands, plans or what a branch should be.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
