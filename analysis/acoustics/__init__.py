"""Textbook physics of gas in pipes and branches.

Takes SI numbers and arrays.
Gives speeds of sound, losses, impedances, matrices, each with its source.
Knows nothing of cars, drives or files.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
