"""How often each warning of a drive is true: raised where it should be, and nowhere else."""
# SPDX-License-Identifier: GPL-2.0-or-later
