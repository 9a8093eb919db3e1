"""Checks of the results as JSON and text."""
# SPDX-License-Identifier: GPL-2.0-or-later
