"""From curves to drone bands.

Takes the points of each order.
Gives bands with edges and intervals, and how each shows by gear, load and coasting.
Knows nothing of causes, cures or a second drive.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
