"""Exhausts of any shape, with what no sizing is told; one nodal network, apart from the sizing."""
# SPDX-License-Identifier: GPL-2.0-or-later
