"""Size the branches that cure a drone, and say where they go.

Takes a request (``request.SizingRequest``): the drone, and what is known of pipe, gas and room.
Gives a sizing (:class:`analysis.branches.Sizing`): branches, promise, assumptions, doubts.
Knows nothing of sound, a second drive, drawings or files.

``size.size_branches`` chooses between the two ways: ``endless_pipe``, by length alone, and
``on_exhaust``, where the car file gives the exhaust's sections.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
