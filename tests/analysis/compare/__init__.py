"""Checks of the comparison of two drives, and of a history of many."""
# SPDX-License-Identifier: GPL-2.0-or-later
