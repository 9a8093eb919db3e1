"""The desk: the whole job in a browser, on this machine only, over one folder of drives and cars.

Takes a folder, and what a person does on a page.
Gives pages. All work is done by the commands, each a process of its own, on the same open files.
Knows nothing of devices, or of how a command does its work; of the analysis it knows only how a
car is described.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
