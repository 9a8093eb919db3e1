"""What a cure is: the numbers that sizing, comparison and pages share."""
# SPDX-License-Identifier: GPL-2.0-or-later

# Half as loud is about 10 dB; 3 dB more is what most people just notice in noise.
# Common practice, no source.
CURED_DB = -10.0
ELSEWHERE_DB = 3.0

# The drone's own stretch, as parts of its rpm: what is loud beyond it is another engine speed's.
# judgement: 0.85 is two half-power widths below a drone of usual width. A narrower stretch lets a
# branch pass that only moves the drone; a wider one counts the neighbour's level. 20 % farther out
# moves a length by 2 mm below and 20 mm above, the outlook by 0.1 and 0.6 dB.
NEAR_LOW = 0.85
NEAR_HIGH = 1.18
