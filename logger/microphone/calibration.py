"""What full scale stands for in dB SPL: measured once with a calibrator, kept in a small file."""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import math
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from logger.folder.json_fields import JsonFields, any_text, number, whole
from logger.folder.output_file import write_text
from logger.folder.quantities import FULL_SCALE_DB_SPL
from logger.folder.text_decoding import read_whole
from logger.microphone.behind import is_stand_in
from logger.microphone.calibrator_tone import CalibrationError, Tone
from logger.microphone.microphones import MicrophoneFacts
from logger.software import own_version

FORMAT_VERSION = 1

_AGAIN = "make it anew with pipenote check --calibrate"
_LARGEST_BYTES = 100_000  # judgement: ours are far smaller; a larger file is something else


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """One microphone with one setting of its gain.

    Attributes
    ----------
    microphone, host : str
        As pipenote check lists them: name, and what it goes through.
    channel : int
        Channel of the microphone, from 1.
    full_scale_db_spl : float
        Sound pressure level of a full-scale sine.
    tone_hz, calibrator_db, spread_db : float
        What the calibrator gave, what it stands for, and how much it wavered.
    measured_utc : str
        ISO 8601.
    behind : str
        The device that the name stood for, where it may stand for any; else empty.
    """

    microphone: str
    host: str
    sample_rate_hz: int
    channel: int
    full_scale_db_spl: float
    tone_hz: float
    calibrator_db: float
    spread_db: float
    measured_utc: str
    software_version: str
    behind: str = ""


def calibration_from(
    tone: Tone,
    *,
    calibrator_db: float,
    microphone: MicrophoneFacts,
    channel: int,
    behind: str = "",
) -> Calibration:
    """Tell what full scale stands for when ``tone`` is ``calibrator_db``.

    Raises
    ------
    CalibrationError
        No microphone is like that, or nobody can tell which it was.
    """
    if is_stand_in(microphone.name) and not behind:
        raise CalibrationError(
            f"{microphone.name!r} stands for whatever the sound settings say, so nobody could tell "
            "later what was calibrated; choose a microphone by its own name with --microphone"
        )
    full_scale_db_spl = calibrator_db - 20.0 * math.log10(tone.amplitude)
    low, high = FULL_SCALE_DB_SPL
    if not low <= full_scale_db_spl <= high:
        raise CalibrationError(
            f"full scale would be {full_scale_db_spl:.0f} dB SPL, which no microphone is; turn the "
            "input gain up and calibrate again"
        )
    return Calibration(
        microphone=microphone.name,
        host=microphone.host,
        sample_rate_hz=microphone.sample_rate_hz,
        channel=channel,
        full_scale_db_spl=round(full_scale_db_spl, 3),
        tone_hz=round(tone.frequency_hz, 2),
        calibrator_db=calibrator_db,
        spread_db=round(tone.spread_db, 4),
        measured_utc=datetime.now(UTC).isoformat(timespec="seconds"),
        software_version=own_version(),
        behind=behind,
    )


def write_calibration(calibration: Calibration, path: Path, *, overwrite: bool) -> None:
    """Write the file, whole or not at all.

    Raises
    ------
    OutputError
        It exists and ``overwrite`` is not given, or the disk refuses.
    """
    document = {"format_version": FORMAT_VERSION, **asdict(calibration)}
    write_text(path, json.dumps(document, indent=2) + "\n", overwrite=overwrite)


def read_calibration(path: Path) -> Calibration:
    """Read what :func:`write_calibration` wrote.

    Raises
    ------
    CalibrationError
        The file is missing, damaged, or of a newer version.
    """
    too_large = f"is too large for a calibration; {_AGAIN}"
    data = read_whole(path, _LARGEST_BYTES, CalibrationError, too_large, f"; {_AGAIN}")
    fields = JsonFields(data, str(path), CalibrationError, _AGAIN)
    if "full_scale_db_spl" not in fields:
        raise CalibrationError(f"{path} is no calibration: it names no full scale; {_AGAIN}")
    version = fields.one("format_version", whole(1, 1_000_000))
    if version != FORMAT_VERSION:
        raise CalibrationError(
            f"{path} has format version {version!r}, this pipenote knows "
            f"{FORMAT_VERSION}; use a pipenote that is as new as the file, or {_AGAIN}"
        )
    return Calibration(
        microphone=fields.needed("microphone", any_text),
        host=fields.needed("host", any_text),
        sample_rate_hz=round(fields.needed("sample_rate_hz", number(1.0, 1e7))),
        channel=round(fields.needed("channel", number(1.0, 1000.0))),
        full_scale_db_spl=fields.needed("full_scale_db_spl", number(*FULL_SCALE_DB_SPL)),
        tone_hz=fields.needed("tone_hz", number(1.0, 1e6)),
        calibrator_db=fields.needed("calibrator_db", number(*FULL_SCALE_DB_SPL)),
        spread_db=fields.needed("spread_db", number(0.0, 100.0)),
        measured_utc=fields.needed("measured_utc", any_text),
        software_version=fields.needed("software_version", any_text),
        behind=fields.text("behind"),
    )


def check_fit(
    calibration: Calibration,
    microphone: MicrophoneFacts,
    channels: tuple[int, ...],
    behind: str = "",
) -> None:
    """Refuse a calibration of another microphone, or of a channel that is not recorded.

    ``behind`` is the device that the microphone's name stands for now; empty if nobody can tell.

    Raises
    ------
    CalibrationError
        It does not fit.
    """
    if (calibration.microphone, calibration.host) != (microphone.name, microphone.host):
        raise CalibrationError(
            f"the calibration is of {calibration.microphone!r} through {calibration.host}, not of "
            f"{microphone.name!r} through {microphone.host}; calibrate this one, choose the other "
            "with --microphone, or leave --calibration out"
        )
    if (calibration.behind or is_stand_in(microphone.name)) and calibration.behind != behind:
        raise CalibrationError(
            f"the calibration is of {calibration.behind or 'nobody knows which microphone'}, but "
            f"{microphone.name!r} stands for {behind or 'nobody knows which'} now; choose that "
            "microphone in the sound settings, calibrate this one, or leave --calibration out"
        )
    if calibration.channel not in channels:
        raise CalibrationError(
            f"the calibration is of channel {calibration.channel}, which is not recorded "
            "as sound of the cabin; add it to --channels, or calibrate the channel that is"
        )
