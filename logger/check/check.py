"""``check``: what could record here, does it hear anything, and what stands in the way."""
# SPDX-License-Identifier: GPL-2.0-or-later

import shutil
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from types import ModuleType

from rich.console import Console, Group, RenderableType

from logger.check.added import added_rows
from logger.check.screen import trial_screen
from logger.check.serial_ports import SerialPort, port_rows, serial_ports
from logger.check.trial import SoundHeard, Trial, try_devices
from logger.check.words import sound_failure, sound_rows, source_failure, source_rows
from logger.errors import DeviceError
from logger.folder.output_file import refuse_out
from logger.microphone.calibration import Calibration, calibration_from, write_calibration
from logger.microphone.calibrator_tone import measure_tone
from logger.microphone.contract import SoundSource
from logger.microphone.device import Microphone
from logger.microphone.microphones import (
    MicrophoneFacts,
    choose_channels,
    choose_microphone,
    list_microphones,
)
from logger.microphone.portaudio import load_portaudio
from logger.screen.terminal import Row, headed, labelled
from logger.sources.choice import choose_sources
from logger.sources.contract import RpmSource

_CALIBRATE_S = 6.0  # judgement: twice what a tone needs at least; a shorter take is refused sooner
_SETTLING_S = 1.0  # not measured: the hand is still on the calibrator
# 48 kHz and 24 bits, the usual take (common practice, no source): only to say how many hours fit on
# the disk.
_DISK_RATE_HZ = 48_000
_BYTES_PER_SAMPLE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """What to try; without a microphone's name the default one, without channels the first two."""

    microphone: str | None
    channels: tuple[int, ...] | None
    rpm: tuple[str, ...]
    cylinders: int | None
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """Everything that could be found out, and what stands in the way of recording.

    ``ports`` is None when the system takes too long to answer; ``rows`` are what was told of each
    device, as (label, text).
    """

    microphones: tuple[MicrophoneFacts, ...]
    ports: tuple[SerialPort, ...] | None
    rows: tuple[Row, ...]
    failures: tuple[str, ...]

    @property
    def text(self) -> RenderableType:
        """As tables for a terminal."""
        failed = [("Failed", failure) for failure in self.failures]
        told = labelled([*self.rows, *failed])
        return Group(_microphone_table(self.microphones), told) if self.microphones else told

    def document(self) -> dict[str, object]:
        """As plain data for a program."""
        return {
            "schema": 1,
            "microphones": [asdict(each) for each in self.microphones],
            "serial_ports": None if self.ports is None else [asdict(each) for each in self.ports],
            "told": [{"of": label, "text": text} for label, text in self.rows],
            "failures": list(self.failures),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The microphone to try."""

    facts: MicrophoneFacts
    channels: tuple[int, ...]
    source: SoundSource


def check_devices(request: CheckRequest, console: Console) -> CheckResult:
    """Look at microphones, serial ports and the disk, and try what was chosen.

    Raises
    ------
    SourceError
        A word for a source of rpm cannot be understood.
    """
    sources = choose_sources(request.rpm, cylinders=request.cylinders)
    microphones: tuple[MicrophoneFacts, ...] = ()
    failures: list[str] = []
    chosen = None
    try:
        audio = load_portaudio()
        microphones = list_microphones(audio)
        chosen = _choose(audio, microphones, request)
    except DeviceError as error:
        failures.append(str(error))
    rows, more = _try_all(chosen, sources, request.seconds, console)
    ports = serial_ports()
    return CheckResult(
        microphones=tuple(microphones),
        ports=ports,
        rows=(*rows, *port_rows(ports), _disk_row(chosen), *added_rows()),
        failures=(*failures, *more),
    )


def failures_as_error(failures: Sequence[str]) -> DeviceError:
    """One line for all that failed."""
    if len(failures) == 1:
        return DeviceError(failures[0])
    return DeviceError(f"{len(failures)} things failed: " + "; and ".join(failures))


def _try_all(
    chosen: Chosen | None, sources: Sequence[RpmSource], seconds: float, console: Console
) -> tuple[list[Row], list[str]]:
    if chosen is None and not sources:
        return [], []
    with trial_screen(console, seconds, prompts=True) as show:
        trial = try_devices(
            None if chosen is None else chosen.source, sources, seconds=seconds, show=show
        )
    rows: list[Row] = []
    failures: list[str] = []
    if chosen is not None:
        name = chosen.facts.name
        try:
            heard = _heard(name, trial)
        except DeviceError as error:
            failures.append(str(error))
        else:
            rows += [("Microphone", f"{name}: works"), *sound_rows(chosen.channels, heard)]
    for source in trial.sources:
        failure = source_failure(source)
        if failure is None:
            rows += [("Source", f"{source.name}: works"), *source_rows(source)]
        else:
            failures.append(failure)
    return rows, failures


def _heard(name: str, trial: Trial) -> SoundHeard:
    if trial.heard is None:
        raise trial.sound_error or DeviceError(f"{name!r} cannot be opened")
    failure = sound_failure(name, trial.heard)
    if failure is not None:
        raise DeviceError(failure)
    return trial.heard


def calibrate(
    request: CheckRequest,
    calibrator_db: float,
    out: Path,
    console: Console,
    *,
    overwrite: bool,
) -> Calibration:
    """Measure a calibrator's tone and write what full scale stands for.

    Raises
    ------
    OutputError
        ``out`` exists, or cannot be written.
    CalibrationError
        No good tone came.
    DeviceError
        The microphone is missing or gives nothing.
    """
    refuse_out(out, overwrite=overwrite)
    audio = load_portaudio()
    chosen = _choose(audio, list_microphones(audio), request)
    with trial_screen(console, _CALIBRATE_S, prompts=False) as show:
        trial = try_devices(chosen.source, (), seconds=_CALIBRATE_S, show=show)
    heard = _heard(chosen.facts.name, trial)
    settling = round(_SETTLING_S * heard.sample_rate_hz)
    tone = measure_tone(heard.samples[settling:], heard.sample_rate_hz)
    calibration = calibration_from(
        tone,
        calibrator_db=float(calibrator_db),
        microphone=chosen.facts,
        channel=chosen.channels[tone.column],
        behind=heard.behind,
    )
    write_calibration(calibration, out, overwrite=overwrite)
    return calibration


def calibration_text(calibration: Calibration, out: Path) -> RenderableType:
    """Show what was measured, and how to use it."""
    return labelled(
        [
            ("Microphone", f"{calibration.microphone}, channel {calibration.channel}"),
            (
                "Tone",
                f"{calibration.tone_hz:.1f} Hz, {calibration.calibrator_db:g} dB, steady within "
                f"{calibration.spread_db:.2f} dB",
            ),
            ("Full scale", f"{calibration.full_scale_db_spl:.1f} dB SPL"),
            ("Use it", f"pipenote record --calibration {out} ..."),
            ("Careful", "if you change the input gain, calibrate again"),
        ]
    )


def _choose(
    audio: ModuleType, microphones: tuple[MicrophoneFacts, ...], request: CheckRequest
) -> Chosen:
    facts = choose_microphone(microphones, request.microphone)
    channels = choose_channels(facts, request.channels)
    return Chosen(facts=facts, channels=channels, source=Microphone(audio, facts, channels))


def _microphone_table(microphones: Sequence[MicrophoneFacts]) -> RenderableType:
    """Every microphone with the number that ``--microphone`` takes."""
    rows = (
        (
            f"{one.index}",
            one.name,
            one.host,
            f"{one.channel_count}",
            f"{one.sample_rate_hz} Hz",
            "default" if one.is_default else "",
        )
        for one in microphones
    )
    return headed("Microphones", ("number", "name", "through", "channels", "rate", ""), rows)


def _disk_row(chosen: Chosen | None) -> Row:
    rate_hz, channels = _DISK_RATE_HZ, 1
    if chosen is not None:
        rate_hz, channels = chosen.facts.sample_rate_hz, len(chosen.channels)
    free_bytes = shutil.disk_usage(Path.cwd()).free
    hours = free_bytes / (3600.0 * rate_hz * channels * _BYTES_PER_SAMPLE)
    plural = "" if channels == 1 else "s"
    return (
        "Disk",
        f"{free_bytes / 1e9:.1f} GB free here: {hours:.0f} h of {channels} channel{plural} at "
        f"{rate_hz} Hz",
    )
