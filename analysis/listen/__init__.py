"""The drone to be heard: ten seconds as recorded, and as they should sound, or do, with branches.

Takes a drive, what was found in it, and what was sized; or two drives, and what was found in them.
Gives two pieces of sound of one loudness scale.
Knows nothing of pages. With one drive the second piece is a model: orders are turned down by what
the sizing predicts at their frequency, all else stays as it was recorded. With two, both are
recordings, and only a gain that is known to differ is taken off.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
