"""Tests of logger.sources.lines."""
# SPDX-License-Identifier: GPL-2.0-or-later
