"""What the desk costs, and what a killed one takes along."""
# SPDX-License-Identifier: GPL-2.0-or-later
