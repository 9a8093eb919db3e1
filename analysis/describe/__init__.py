"""The car, asked for and shown back: what a person can say of it in the words of the garage.

Takes answers as they were typed, or a car file.
Gives the next question, the car file's text, each piece with its running totals, and what is odd.
Knows nothing of terminals, pages, sound and branches.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
