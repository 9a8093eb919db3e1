"""The results as text for a terminal, one module a command.

Takes frozen results of the analysis, or of an import.
Gives what ``rich`` can print, as wide as the terminal is.
Knows nothing of options, files or how a result came about.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
