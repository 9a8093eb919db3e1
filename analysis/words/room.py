"""How to tell the room there is for a branch that is bent along the pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

TELL_THE_ROOM = (
    'say what room there is, out from the pipe and along it: --room "250 mm" "900 mm", or '
    'beside = "250 mm" under [room] in the car file'
)
