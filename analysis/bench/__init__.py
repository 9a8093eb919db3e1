"""Branches tried on every guess at an exhaust.

Takes the guesses, solved as networks, with the gas and the mouths that branches would have.
Gives what branches of any length at any places do to the drone, and to the rest of the levels.
Knows nothing of how guesses were found, of plans, or of which branches are worth a try.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
