"""The cautions that page and sheets show, each with the public standard or law behind it."""
# SPDX-License-Identifier: GPL-2.0-or-later

DEFER = (
    "This is no substitute for the codes where you live or for a licensed workshop. Where it "
    "and they differ, they are right; what you have not learned to do safely, have done."
)

CAUTION_LINE = (
    "Work on a cold exhaust, with the car on stands and its wheels chocked. Keep heat away from "
    "fuel and brake lines, and disconnect the battery before you weld. Run the engine outdoors "
    "only. Never heat or weld a tube that is closed at both ends. Read all cautions first: the "
    "last section below, or the first of the build sheets."
)

# (label, what to do, source); values of the standards as published
CAUTIONS: tuple[tuple[str, str, str], ...] = (
    (
        "Driving while logging",
        "Start the log before you set off and let a second person watch it, or leave it alone "
        "until you have stopped. Keep to the limit: do not chase engine speed on a public road.",
        "Common practice; your local traffic law",
    ),
    (
        "Carbon monoxide",
        "Run the engine outdoors only. After any work on the pipe look for leaks at every joint, "
        "and carry a carbon monoxide alarm in the cabin: it has no smell, and the World Health "
        "Organization allows 90 ppm for 15 minutes, 25 ppm for an hour.",
        "WHO air quality guidelines; OSHA limit 50 ppm over 8 h (29 CFR 1910.1000)",
    ),
    (
        "Under the car",
        "Level ground, wheels chocked, stands at the maker's points. Never go under a car that "
        "only a jack holds.",
        "OSHA 29 CFR 1910.244 (jacks); the makers' instructions",
    ),
    (
        "Hot parts",
        "The pipe's skin reaches 200 to 400 °C (390 to 750 °F); bare metal burns skin within a "
        "second from about 65 °C (150 °F). Let it go cold before you touch it. Keep the branch "
        "clear of lines, wiring, undercoating and dry grass.",
        "ISO 13732-1 (contact burns)",
    ),
    (
        "Fuel and brake lines",
        "Find every fuel and brake line and the tank before you cut, grind or weld; move or shield "
        "them, and have an extinguisher and a fire watch.",
        "NFPA 51B (fire prevention during hot work)",
    ),
    (
        "Battery and electronics",
        "Disconnect the battery, and what else the car maker names, before welding; clamp the "
        "earth close to the weld.",
        "Common practice; the car maker's instructions",
    ),
    (
        "Welding fume",
        "Do not weld through zinc: choose tube that is not galvanised, or strip it well back from "
        "the joint; its fume brings metal fume fever (zinc oxide limit 5 mg/m³). Stainless gives "
        "off hexavalent chromium (limit 5 µg/m³): extract the fume and wear a respirator made for "
        "it. Eyes, skin and anyone near need cover from the arc.",
        "ANSI Z49.1; OSHA 29 CFR 1910.1000 and 1910.1026",
    ),
    (
        "Closed tube",
        "Never heat or weld a tube that is closed at both ends: the air in it has nowhere to go. "
        "Drill the drain hole, or leave the cap loose, before you weld the rest.",
        "ANSI Z49.1 (containers); common practice",
    ),
    (
        "Hearing",
        "Stay below 85 dB(A) over 8 hours a day; each 3 dB more halves the time: 94 dB(A) "
        "for 1 hour, 100 dB(A) for 15 minutes. Grinding and open pipes pass that: wear protection "
        "in the workshop. A low drone tires long before it deafens.",
        "NIOSH 98-126 (1998)",
    ),
    (
        "Emissions law",
        "Fit a branch only after the last catalyst and away from oxygen sensors; remove or disable "
        "no emission part.",
        "42 U.S.C. 7522(a)(3) in the United States; UNECE type approval and inspection elsewhere",
    ),
    (
        "Noise law",
        "A branch changes a certified exhaust. Limits and inspection differ: California, for "
        "example, allows 95 dB(A) by SAE J1169 for cars under 6,000 lb.",
        "California Vehicle Code 27151; UNECE R51 and R59",
    ),
    (
        "Water in the branch",
        "A dead end collects acid water that rusts and freezes. Point the cap up, or drill a drain "
        "of at most 3 mm (1/8 in) at its lowest point, away from the cabin.",
        "Common practice",
    ),
)
