"""What doubts about a drive are called, on the page and at the desk."""
# SPDX-License-Identifier: GPL-2.0-or-later

_LABELS = {
    "clipped_audio": "The sound is clipped",
    "automatic_gain": "The recorder held the level",
    "sound_gap": "Sound is missing in places",
    "telemetry_gap": "Parts of the drive are left out",
    "rpm_from_sound": "Engine speed was worked out from the sound",
    "telemetry_unaligned": "The log could not be lined up",
    "wrong_log": "The logged engine speed is wrong",
    "other_cylinders": "Another number of cylinders?",
    "sweep_too_fast": "Driven through too quickly",
    "low_signal": "Weak signal",
    "wind_rumble": "Wind on the microphone?",
    "speech": "Voices, music or knocks",
    "microphone_roll_off": "The microphone loses low frequencies",
    "steady_tone": "A tone that is not the engine's",
    "one_gear_only": "Engine or road: cannot tell",
    "few_passes": "Too few sweeps",
    "climbs_on": "The top may lie beyond what was driven",
    "tail_left_out": "The microphone at the tail was of no use",
    "levels_only": "Levels, no sound",
}


def name_of(code: str) -> str:
    """Give the name of a warning."""
    return _LABELS.get(code, code.replace("_", " "))
