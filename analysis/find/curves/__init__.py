"""From moments to curves: level over engine speed, pass by pass and gear by gear.

Takes order frames, engine speed and what the driver did.
Gives points of each order on the fixed rpm bins.
Knows nothing of resonances, bands or causes.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
