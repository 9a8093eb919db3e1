"""What can go wrong on a test drive, said before it begins."""
# SPDX-License-Identifier: GPL-2.0-or-later

# Hearing: NIOSH 98-126, 85 dB(A) for 8 hours and half the time for each 3 dB more. The alarm for
# carbon monoxide: EN 50291-2, for vehicles (from memory). The others: common practice, no source.
CAUTIONS = (
    "Start this before you set off. A passenger watches it, or nobody does until you stand.",
    "On public roads the law comes first, not the rev counter. Full throttle: private ground.",
    "Carbon monoxide has no smell: no engine indoors, no leaks, and with the windows shut a CO "
    "alarm (EN 50291-2). Dizzy or headache: stop, get out.",
    "Hearing: an hour of 94 dB(A) is enough, 15 minutes of 100. Wear protection.",
    "Exhaust and heat shields stay hot long after. Tie down laptop, cables and adapter, clear "
    "of pedals, belts and hot parts.",
)
AT_TAIL = (
    "The microphone at the tail: tied down twice, out of the gas, its cable off hot pipe and "
    "wheels, no light or plate covered. Never held out of a moving car."
)
