"""Tests of analysis.find.sound."""
# SPDX-License-Identifier: GPL-2.0-or-later
