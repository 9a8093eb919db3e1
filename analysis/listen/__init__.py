"""The drone to be heard: ten seconds as recorded, and as they should sound with the branches.

Takes a drive, what was found in it, and what was sized.
Gives two pieces of sound of one loudness scale.
Knows nothing of pages. The second piece is a model: orders are turned down by what the sizing
predicts at their frequency, all else stays as it was recorded.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
