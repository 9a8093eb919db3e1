"""What a builder does with a sizing, as plain numbers.

Takes branches, room and stock.
Gives pieces, bends, saddle curves, holes and sliding caps.
Knows nothing of paper, drawing or acoustics.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
