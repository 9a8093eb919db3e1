"""The parts that read a table by themselves, and whole tables."""
# SPDX-License-Identifier: GPL-2.0-or-later
