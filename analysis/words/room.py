"""How to tell the room there is for a branch that is bent along the pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

TELL_THE_ROOM = (
    'say in the car file how far out from the pipe there is room: beside = "250 mm" under [room]'
)
