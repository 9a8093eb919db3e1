"""One short drive in every shape in which loggers, phones and spreadsheets write it.

All shapes tell the same eight rows, so what a careful person reads in each is known beforehand.
A shape is either read right, or asked about with the option that settles it; with that option
given it is read right too. Shapes are common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

TIME_S = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5)
RPM = (812.0, 1004.0, 1298.0, 1611.0, 1903.0, 2207.0, 2498.0, 2804.0)
SPEED_KMH = (11.5, 14.0, 18.5, 22.5, 27.0, 31.0, 35.5, 39.5)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """One log.

    ``asks`` is the option that must be named, empty where the log speaks for itself; ``answer``
    is what a person then gives. ``speed`` says whether road speed comes out as well, ``rpm``
    whether engine speed does.
    """

    name: str
    content: str | bytes
    asks: str = ""
    answer: dict[str, Any] = field(default_factory=dict)
    rpm: bool = True
    speed: bool = True
    time_s: Sequence[float] = TIME_S
    tolerance: float = 1e-9


def table(
    head: str,
    sign: str = ",",
    *,
    time: Callable[[float], str] = "{:.2f}".format,
    rpm: Callable[[float], str] = "{:.0f}".format,
    speed: Callable[[float], str] = "{:.1f}".format,
    row: str = "{t}{s}{n}{s}{v}",
) -> str:
    """Write the drive under a head, one row a line."""
    rows = zip(TIME_S, RPM, SPEED_KMH, strict=True)
    cells = [row.format(t=time(t), n=rpm(n), v=speed(v), s=sign) for t, n, v in rows]
    return "\n".join([*([head] if head else []), *cells, ""])


def comma(value: float) -> str:
    return f"{value:.2f}".replace(".", ",")


def long_form(
    names: tuple[str, str] = ("Engine RPM", "Vehicle speed (km/h)"),
    *,
    head: str = "Time (s),Name,Value",
    row: str = "{t:.2f},{name},{x:g}",
    blocks: bool = False,
) -> str:
    """Write the drive as one value a row."""
    signals = [*zip(names, ("rpm", "km/h"), (RPM, SPEED_KMH), strict=True)]
    cells = [
        (at, t, row.format(t=t, name=name, x=values[at], unit=unit, id=7 + which))
        for at, t in enumerate(TIME_S)
        for which, (name, unit, values) in enumerate(signals)
    ]
    rows = [text for _, _, text in cells]
    if blocks:
        rows = [*rows[::2], *rows[1::2]]
    return "\n".join([head, *rows, ""])


def _coarse_minutes(head: str) -> str:
    """Whole minutes, ten rows in each, for a drive of four of them."""
    rows = [f"{at // 10},{800 + 10 * at},{10 + at}" for at in range(40)]
    return "\n".join([head, *rows, ""])


def _counted(head: str, sign: str = ",", first: int = 0) -> str:
    rows = zip(TIME_S, RPM, SPEED_KMH, strict=True)
    cells = [f"{first + i}{sign}{t:.2f}{sign}{n:g}{sign}{v:g}" for i, (t, n, v) in enumerate(rows)]
    return "\n".join([head, *cells, ""])


_WIDE = (
    Shape(name="plain", content=table("Time (s),Engine RPM (rpm),Speed (km/h)")),
    Shape(
        name="quoted cells",
        content=table('"Time (s)","Engine RPM","Speed (km/h)"', row='"{t}"{s}"{n}"{s}"{v}"'),
    ),
    Shape(
        name="a line that names the sign",
        content="sep=;\n" + table("Time (s);Engine RPM;Speed (km/h)", ";"),
    ),
    Shape(
        name="decimal commas",
        content=table(
            "Zeit [s];Motordrehzahl [1/min];Geschwindigkeit [km/h]", ";", time=comma, speed=comma
        ),
    ),
    Shape(
        name="columns lined up with blanks",
        content=table("  Time_s     RPM   Speed_kmh", row="{t:>8}{n:>8}{v:>12}"),
    ),
    Shape(
        name="names of two words, lined up",
        content=table("Time (s)   Engine speed (rpm)   Speed (km/h)", row="{t:>8}{n:>21}{v:>15}"),
    ),
    Shape(
        name="thousands parted by blanks",
        content=table(
            "Temps (s);Régime moteur (tr/min);Vitesse (km/h)",
            ";",
            time=comma,
            speed=comma,
            rpm=lambda n: f"{n:,.0f}".replace(",", " "),
        ),
    ),
    Shape(
        name="thousands parted by narrow blanks",
        content=table(
            "Temps (s);Régime moteur (tr/min);Vitesse (km/h)",
            ";",
            time=comma,
            speed=comma,
            rpm=lambda n: f"{n:,.0f}".replace(",", "\u202f"),
        ),
    ),
    Shape(
        name="thousands parted by apostrophes",
        content=table(
            "Zeit (s);Drehzahl (U/min);Geschwindigkeit (km/h)",
            ";",
            rpm=lambda n: f"{n:,.0f}".replace(",", "'"),
        ),
    ),
    Shape(
        name="units inside the cells",
        content=table(
            "Time,Engine speed,Vehicle speed",
            time="{:.2f} s".format,
            rpm="{:.0f} rpm".format,
            speed="{:.1f} km/h".format,
        ),
    ),
    Shape(
        name="units inside the cells, thousands",
        content=table(
            "Time;Engine speed;Vehicle speed",
            ";",
            time="{:.2f}s".format,
            rpm=lambda n: f"{n / 1000:.3f} krpm",
            speed="{:.1f}km/h".format,
        ),
    ),
    Shape(
        name="a mixture of units inside the cells",
        content=table(
            "Time;Engine speed;Vehicle speed",
            ";",
            time="{:.2f} s".format,
            rpm=lambda n: f"{n / 1000:.3f} krpm" if n > 2000 else f"{n:g} rpm",
            speed="{:.1f} km/h".format,
        ),
    ),
    Shape(
        name="the header says mph, the cells km/h",
        content=table("Time;Engine speed;Vehicle speed (mph)", ";", speed="{:.1f} km/h".format),
        asks="--speed-unit",
        answer={"speed_unit": "km/h"},
    ),
)

_HEADS = (
    Shape(
        name="preamble, header, units",
        content="Log of a drive\nDriver;A. N. Other\n;\n"
        + table("Time;RPM;Speed\ns;1/min;km/h", ";"),
    ),
    Shape(
        name="header, units, sources",
        content=table("Time;Engine speed;Speed\ns;1/min;km/h\nlogger;ECU;GPS", ";"),
    ),
    Shape(
        name="sources, header, units",
        content=table("logger;ECU;GPS\nTime;Engine speed;Speed\ns;1/min;km/h", ";"),
    ),
    Shape(
        name="header, sources, units, channel numbers",
        content=table("Time;Engine speed;Speed\nlogger;ECU;GPS\ns;1/min;km/h\n0;12;13", ";"),
    ),
    Shape(
        name="header, channel numbers, units",
        content=table("Time;Engine speed;Speed\n0;12;13\ns;1/min;km/h", ";"),
    ),
    Shape(
        name="header, channel numbers",
        content=table("Time (s);Engine speed (rpm);Speed (km/h)\n0;12;13", ";"),
    ),
    Shape(
        name="header, largest values",
        content=table("Time (s);Engine speed (rpm);Speed (km/h)\n0;8000;250", ";"),
    ),
    Shape(
        name="header, units, least and largest values",
        content=table("Time;Engine speed;Speed\ns;1/min;km/h\n0.0;0;0\n3600.0;8000;255", ";"),
    ),
    Shape(
        name="header, least values with names, largest values",
        content=table("Time (s);Engine speed (rpm);Speed (km/h)\nmin;0;0\nmax;8000;250", ";"),
    ),
    Shape(
        name="thousands in the name, without a sign",
        content=table("Time (s),RPM1000,Speed (km/h)", rpm=lambda n: f"{n / 1000:.3f}"),
        asks="--rpm-unit",
        answer={"rpm_unit": "1000 rpm"},
    ),
    Shape(
        name="channel numbers one by one",
        content=table("1;2;3\nTime (s);Engine speed (rpm);Speed (km/h)", ";"),
    ),
    Shape(
        name="channel numbers one by one below",
        content=table("Time (s);Engine speed (rpm);Speed (km/h)\n1;2;3", ";"),
    ),
    Shape(
        name="groups over names",
        content=table(";Engine;Vehicle\nTime;Speed;Speed\ns;1/min;km/h", ";"),
    ),
    Shape(
        name="groups that span columns",
        content=table(
            ";Prop shaft;;Engine;Vehicle\nTime;Torque;Speed;Speed;Speed\ns;Nm;rpm;rpm;km/h",
            ";",
            row="{t}{s}120{s}4321{s}{n}{s}{v}",
        ),
    ),
    Shape(
        name="short names, then what they mean",
        content=table("T;N;V\nTime;Engine speed;Vehicle speed\ns;1/min;km/h", ";"),
    ),
    Shape(
        name="what it means, then short names",
        content=table("Time;Engine speed;Vehicle speed\nT;N;V\ns;1/min;km/h", ";"),
    ),
    Shape(
        name="a shaft told in the second row",
        content=table(
            "T;N1;N2;V\nTime;Propeller shaft;Engine speed;Vehicle speed\ns;rpm;rpm;km/h",
            ";",
            row="{t}{s}4321{s}{n}{s}{v}",
        ),
    ),
    Shape(
        name="a propeller shaft and no engine",
        content=table("Time;Propeller shaft;Vehicle speed\ns;1/min;km/h", ";"),
        asks="--rpm-column",
        answer={"rpm_column": "2"},
    ),
    Shape(
        name="units only, under a preamble that names a shaft",
        content="Signal: propeller shaft;\n" + table("s;1/min;km/h", ";"),
        asks="--rpm-column",
        answer={"rpm_column": "2"},
        speed=False,
    ),
    Shape(
        name="unknown revolutions",
        content=table("Time (s);Foo (rpm);Speed (km/h)", ";"),
        asks="--rpm-column",
        answer={"rpm_column": "Foo (rpm)"},
    ),
    Shape(
        name="header again in the middle",
        content=table("Time (s),RPM,Speed (km/h)").replace(
            "2.00,", "Time (s),RPM,Speed (km/h)\n2.00,"
        ),
    ),
    Shape(
        name="no header",
        content=table(""),
        asks="--time-column",
        answer={"time_column": "1", "rpm_column": "2", "speed_column": "3", "speed_unit": "km/h"},
    ),
)

_SHIFTED = (
    Shape(
        name="an empty first column",
        content=table(";Time (s);RPM;Speed (km/h)", ";", row=";{t}{s}{n}{s}{v}"),
    ),
    Shape(
        name="an empty first column that the header lacks",
        content=table("Time (s);RPM;Speed (km/h)", ";", row=";{t}{s}{n}{s}{v}"),
    ),
    Shape(name="a count without a name", content=_counted(",Time (s),RPM,Speed (km/h)")),
    Shape(
        name="a count that the header lacks",
        content=_counted("Time (s),RPM,Speed (km/h)"),
        asks="--time-column",
        answer={"time_column": "2", "rpm_column": "3", "speed_column": "4", "speed_unit": "km/h"},
    ),
    Shape(
        name="a delimiter at the end of each line",
        content=table("Time (s);RPM;Speed (km/h);", ";", row="{t}{s}{n}{s}{v}{s}"),
    ),
    Shape(name="a count with a name", content=_counted("No,Time (s),RPM,Speed (km/h)", first=1)),
)

_LONG = (
    Shape(name="long form", content=long_form()),
    Shape(
        name="long form with units in a column",
        content=long_form(
            ("Engine speed", "Vehicle speed"),
            head="Time (s);Signal;Value;Unit",
            row="{t:.2f};{name};{x:g};{unit}",
        ),
    ),
    Shape(
        name="long form with units in the cells",
        content=long_form(
            ("Engine speed", "Vehicle speed"),
            head="Time (s);Signal;Value",
            row="{t:.2f};{name};{x:g} {unit}",
        ),
    ),
    Shape(name="long form, one quantity after the other", content=long_form(blocks=True)),
    Shape(
        name="long form with numbers of signals",
        content=long_form(head="Time (s),Id,Name,Value", row="{t:.2f},{id},{name},{x:g}"),
    ),
    Shape(
        name="long form, name first",
        content=long_form(head="Name,Time (s),Value", row="{name},{t:.2f},{x:g}"),
    ),
    Shape(
        name="long form without a header",
        content=long_form(head="").lstrip("\n"),
        asks="--time-column",
        answer={"time_column": "1", "time_unit": "s"},
    ),
    Shape(
        name="long form without a header, name first",
        content=long_form(head="", row="{name},{t:.2f},{x:g}").lstrip("\n"),
        asks="--time-column",
        answer={"time_column": "2", "time_unit": "s"},
    ),
    Shape(
        name="long form, names that say nothing",
        content=long_form(("N1", "V1")),
        asks="--rpm-column",
        answer={"rpm_column": "N1", "speed_column": "V1", "speed_unit": "km/h"},
    ),
    Shape(
        name="long form, two engine speeds",
        content=long_form(("Engine RPM", "Engine speed (rpm)")),
        speed=False,
        asks="--rpm-column",
        answer={"rpm_column": "Engine RPM"},
    ),
    Shape(
        name="long form with a decimal comma",
        content=long_form(head="Zeit [s];Name;Wert", row="{t:.2f};{name};{x:.1f}").replace(
            ".", ","
        ),
    ),
)

_TIME = (
    Shape(
        name="time since codes cleared, alone",
        content=_coarse_minutes("Time since codes cleared,Engine RPM,Speed (km/h)"),
        asks="--time-column",
        answer={"time_column": "1", "time_unit": "min"},
        time_s=(),
    ),
    Shape(
        name="time since codes cleared, beside the time",
        content=table(
            "Time since codes cleared (min),Time (s),RPM,Speed (km/h)", row="17{s}{t}{s}{n}{s}{v}"
        ),
    ),
    Shape(
        name="whole minutes without a unit",
        content=_coarse_minutes("Time,Engine RPM,Speed (km/h)"),
        asks="--time-unit",
        answer={"time_unit": "min"},
        time_s=(),
    ),
    Shape(
        name="time in tenths",
        content=table("Time [1/10 s];RPM;Speed (km/h)", ";", time=lambda t: f"{10 * t:.0f}"),
    ),
    Shape(
        name="time in tenths, as a number",
        content=table("Time [0.1 s];RPM;Speed (km/h)", ";", time=lambda t: f"{10 * t:.0f}"),
    ),
    Shape(
        name="time in tenths, in a word",
        content=table("Time [tenths];RPM;Speed (km/h)", ";", time=lambda t: f"{10 * t:.0f}"),
        asks="--time-unit",
        answer={"time_unit": "0.1 s"},
    ),
    Shape(
        name="time in an unknown unit",
        content=table("Time (ticks);RPM;Speed (km/h)", ";", time=lambda t: f"{200 * t:.0f}"),
        asks="--time-unit",
        answer={"time_unit": "5 ms"},
    ),
    Shape(
        name="time in an unknown unit of a units row",
        content=table("Time;RPM;Speed\nticks;1/min;km/h", ";", time=lambda t: f"{200 * t:.0f}"),
        asks="--time-unit",
        answer={"time_unit": "5 ms"},
    ),
    Shape(
        name="minutes and their parts",
        content=table("Time (min);RPM;Speed (km/h)", ";", time=lambda t: f"{t / 60:.8f}"),
        tolerance=1e-6,
    ),
    Shape(
        name="days of a spreadsheet",
        content=table("Time;RPM;Speed (km/h)", ";", time=lambda t: f"{45451.25 + t / 86400:.9f}"),
        asks="--time-unit",
        answer={"time_unit": "day"},
        tolerance=1e-4,
    ),
    Shape(
        name="a clock and its date in two columns",
        content=table(
            "Date;Time;RPM;Speed (km/h)",
            ";",
            time=lambda t: f"10:05:{12 + t:06.3f}",
            row="2025-06-08{s}{t}{s}{n}{s}{v}",
        ),
    ),
    Shape(
        name="afternoon",
        content=table("Time;RPM;Speed (km/h)", ";", time=lambda t: f"1:05:{12 + t:06.3f} PM"),
    ),
    Shape(
        name="seconds since 1970",
        content=table("Time,RPM,Speed (km/h)", time=lambda t: f"{1717840800 + t:.2f}"),
    ),
)

_SPEEDS = (
    Shape(
        name="engine speed in Hz",
        content=table(
            "Time (s);Engine speed (Hz);Speed (km/h)", ";", rpm=lambda n: f"{n / 60:.6f}"
        ),
        asks="--rpm-unit",
        answer={"rpm_unit": "rev/s"},
        tolerance=1e-6,
    ),
    Shape(
        name="engine speed in Hz of a units row",
        content=table("Time;Engine speed;Speed\ns;Hz;km/h", ";", rpm=lambda n: f"{n / 60:.6f}"),
        asks="--rpm-unit",
        answer={"rpm_unit": "rev/s"},
        tolerance=1e-6,
    ),
    Shape(
        name="engine speed in thousands, named",
        content=table(
            "Time (s);Engine speed (1000 rpm);Speed (km/h)", ";", rpm=lambda n: f"{n / 1000:.4f}"
        ),
    ),
    Shape(
        name="engine speed in thousands, not named",
        content=table("Time (s);Engine speed;Speed (km/h)", ";", rpm=lambda n: f"{n / 1000:.4f}"),
        asks="--rpm-unit",
        answer={"rpm_unit": "1000 rpm"},
    ),
    Shape(
        name="engine speed in Hz, not named",
        content=table("Time (s);Engine speed;Speed (km/h)", ";", rpm=lambda n: f"{n / 60:.6f}"),
        asks="--rpm-unit",
        answer={"rpm_unit": "rev/s"},
        tolerance=1e-6,
    ),
    Shape(
        name="engine speed in thousands, in the name of rpm",
        content=table("Time (s);RPM / 1000;Speed (km/h)", ";", rpm=lambda n: f"{n / 1000:.4f}"),
        asks="--rpm-unit",
        answer={"rpm_unit": "1000 rpm"},
    ),
    Shape(
        name="engine speed in quarters",
        content=table(
            "Time (s);Engine speed [0.25 rpm];Speed (km/h)", ";", rpm=lambda n: f"{4 * n:.0f}"
        ),
    ),
    Shape(
        name="engine speed in counts",
        content=table(
            "Time (s);Engine speed (counts);Speed (km/h)", ";", rpm=lambda n: f"{4 * n:.0f}"
        ),
        asks="--rpm-unit",
        answer={"rpm_unit": "0.25 rpm"},
    ),
    Shape(
        name="engine speed raw",
        content=table("Time (s);Engine RPM (raw);Speed (km/h)", ";", rpm=lambda n: f"{4 * n:.0f}"),
        asks="--rpm-unit",
        answer={"rpm_unit": "0.25 rpm"},
    ),
    Shape(
        name="engine speed from a named device",
        content=table("Time (s);Engine speed (ECU);Speed (GPS) (km/h)", ";"),
    ),
    Shape(
        name="road speed without a unit",
        content=table("Time (s);RPM;Vehicle speed", ";"),
        asks="--speed-unit",
        answer={"speed_unit": "km/h"},
    ),
    Shape(
        name="road speed in mph of a units row",
        content=table("Time;RPM;Speed\ns;rpm;mph", ";", speed=lambda v: f"{v / 1.609344:.6f}"),
        tolerance=1e-6,
    ),
    Shape(name="wind in km/h", content=table("Time (s);RPM;Wind (km/h)", ";"), speed=False),
    Shape(
        name="a wheel in km/h", content=table("Time (s);RPM;Front left (km/h)", ";"), speed=False
    ),
    Shape(
        name="a satellite's speed and no rpm",
        content=table("Time (s),Latitude,Longitude,Speed (km/h)", row="{t}{s}48.1{s}11.5{s}{v}"),
        rpm=False,
        asks="--rpm-column",
        answer={"rpm_column": "none"},
    ),
)

# Names in the most spoken languages, and the encodings that files in them come in.
# Words: common practice, no source.
_LANGUAGES = {
    "English": ("Time (s);Engine speed (rpm);Vehicle speed (km/h)", ["utf-8", "utf-16"]),
    "Chinese": (
        "时间(秒);发动机转速(转/分);车速(公里/小时)",
        ["utf-8", "utf-16", "gb18030", "gbk"],
    ),
    "Chinese, wide brackets": ("时间（s）;转速（rpm）;车速（km/h）", ["utf-8", "gb18030"]),
    "Chinese, traditional": ("時間(s);引擎轉速(rpm);車速(km/h)", ["utf-8", "big5"]),
    "Hindi": ("समय (सेकंड);इंजन की गति (rpm);वाहन की गति (किमी/घंटा)", ["utf-8", "utf-16"]),
    "Spanish": (
        "Tiempo (s);Régimen del motor (rpm);Velocidad del vehículo (km/h)",
        ["utf-8", "cp1252", "iso8859-15", "cp850", "mac_roman"],
    ),
    "French": (
        "Temps (s);Régime moteur (tr/min);Vitesse du véhicule (km/h)",
        ["utf-8-sig", "cp1252", "iso8859-1"],
    ),
    "Arabic": (
        "الوقت (ث);سرعة المحرك (دورة/دقيقة);سرعة السيارة (كم/س)",
        ["utf-8", "utf-16", "cp1256", "iso8859-6"],
    ),
    "Bengali": ("সময় (সেকেন্ড);ইঞ্জিনের গতি (rpm);গাড়ির গতি (কিমি/ঘণ্টা)", ["utf-8", "utf-16"]),
    "Portuguese": (
        "Tempo (s);Rotação do motor (rpm);Velocidade do veículo (km/h)",
        ["utf-8", "cp1252"],
    ),
    "Russian": (
        "Время (с);Обороты двигателя (об/мин);Скорость (км/ч)",
        ["utf-8", "utf-16", "cp1251", "koi8-r", "cp866", "iso8859-5", "mac_cyrillic"],
    ),
    "Urdu": ("وقت (سیکنڈ);انجن کی رفتار (rpm);گاڑی کی رفتار (km/h)", ["utf-8", "utf-16"]),
    "Indonesian": ("Waktu (detik);Putaran mesin (rpm);Kecepatan kendaraan (km/jam)", ["utf-8"]),
    "German": ("Zeit (s);Motordrehzahl (U/min);Fahrzeuggeschwindigkeit (km/h)", ["cp1252"]),
    "Japanese": (
        "時間 (秒);エンジン回転数 (回転/分);車速 (km/h)",
        ["utf-8", "utf-16", "shift_jis", "euc_jp"],
    ),
    "Korean": ("시간 (초);엔진 회전수 (rpm);차량 속도 (km/h)", ["utf-8", "euc_kr"]),
    "Turkish": ("Zaman (sn);Motor devri (d/dk);Araç hızı (km/sa)", ["utf-8", "cp1254"]),
    "Polish": (
        "Czas (s);Prędkość obrotowa silnika (obr/min);Prędkość pojazdu (km/h)",
        ["utf-8", "cp1250"],
    ),
    "Italian": ("Tempo (s);Regime motore (giri/min);Velocità (km/h)", ["utf-8", "cp1252"]),
}
_SPOKEN = tuple(
    Shape(name=f"{language} in {encoding}", content=table(head, ";").encode(encoding))
    for language, (head, encodings) in _LANGUAGES.items()
    for encoding in encodings
)

_TWO = "{t}{s}{n}"


def _asked_rpm(name: str, head: str) -> Shape:
    """Another speed than the engine's, or one that may be; the answer takes it all the same."""
    return Shape(
        name=name,
        content=table(head, row=_TWO),
        asks="--rpm-column",
        answer={"rpm_column": "2"},
        speed=False,
    )


# What hides behind words that no list holds: asked about, never taken.
_OTHER_SPEEDS = (
    _asked_rpm("a roller", "Time (s),Roller RPM"),
    _asked_rpm("an alternator", "Time (s),Alternator (rpm)"),
    _asked_rpm("a camshaft", "Time (s),Camshaft speed (rpm)"),
    _asked_rpm("a limit", "Time (s),Rev limit (rpm)"),
    _asked_rpm("a change", "Time (s),RPM delta"),
    _asked_rpm("a wheel in German", "Zeit (s),Rad Drehzahl (1/min)"),
    _asked_rpm("a gearbox in French", "Temps (s),Régime boîte (tr/min)"),
    _asked_rpm("a turbine in Russian", "Время (с),Обороты турбины (об/мин)"),
    _asked_rpm("a target in Spanish", "Tiempo (s),Revoluciones objetivo (rpm)"),
    _asked_rpm("a target in Chinese", "时间(s),目标 转速(rpm)"),
    _asked_rpm("a shaft in Japanese", "時間[s],ドライブシャフト 回転数[rpm]"),
    _asked_rpm("a quarter in a word", "Time (s),RPM_div4"),
    Shape(
        name="a gearbox in Japanese beside the engine",
        content=table("時間[s],変速機回転数[rpm],エンジン回転数[rpm]", row="{t}{s}4321{s}{n}"),
        speed=False,
    ),
    Shape(
        name="a cam beside the crank",
        content=table("Time (s),Cam speed (rpm),Crank speed (rpm)", row="{t}{s}4321{s}{n}"),
        speed=False,
    ),
    Shape(
        name="another loudness and another load",
        content=table(
            "Time (s),RPM,Insertion loss dB(A),Trailer load (%)", row="{t}{s}{n}{s}12.5{s}40"
        ),
        speed=False,
    ),
    Shape(
        name="words of one name in two rows",
        content=table("Time;Engine;Vehicle\n;speed;speed\n(s);(rpm);(km/h)", ";"),
    ),
    Shape(
        name="two columns with units that look like numbers",
        content=table("Zeit;Motordrehzahl\ns;1/min", ";", row=_TWO),
        speed=False,
    ),
    Shape(
        name="units behind a comma",
        content=table("Время, с;Обороты, об/мин;Скорость, км/ч", ";"),
    ),
    Shape(
        name="words among the values of a long form",
        content=long_form().replace("0.50,Eng", "0.50,Gear,D\n0.50,Eng"),
    ),
    Shape(
        name="hours and minutes, or minutes and seconds",
        content=table("Time;RPM;Speed (km/h)", ";", time=lambda t: f"10:{int(2 * t):02d}"),
        asks="--time-unit",
        answer={"time_unit": "h:min"},
        time_s=tuple(120.0 * t for t in TIME_S),
    ),
)

SHAPES = (*_OTHER_SPEEDS, *_SPOKEN, *_WIDE, *_HEADS, *_SHIFTED, *_LONG, *_TIME, *_SPEEDS)
