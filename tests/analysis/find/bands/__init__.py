"""Tests of analysis.find.bands."""
# SPDX-License-Identifier: GPL-2.0-or-later
