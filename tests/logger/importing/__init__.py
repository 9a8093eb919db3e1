"""Tests of logger.importing."""
# SPDX-License-Identifier: GPL-2.0-or-later
