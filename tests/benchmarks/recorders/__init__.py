"""What recorders and cabins do to a drive, and whether ``find`` notices."""
# SPDX-License-Identifier: GPL-2.0-or-later
