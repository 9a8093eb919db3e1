"""What a recording makes of kills, of a sound system's faults and of an adapter's."""
# SPDX-License-Identifier: GPL-2.0-or-later
