"""Options that several commands share: declared once; `leakdown.reading.Told` turns them into SI.

A command spells out those that it has: Typer reads its signature, and takes no bundle of options.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from leakdown.cli.help_text import circuit_names, one_of
from leakdown.errors import UsageError


def option(name: str, does: str, panel: str | None = None, **more: Any) -> Any:
    """An option for Annotated: its name, what it does, its panel of the help text; `more` as Typer has it."""
    return typer.Option(name, help=does, rich_help_panel=panel, **more)


_TEST = "The test"
_READING = "Reading the file"
_RESULT = "The result"

Files = Annotated[
    list[Path],
    typer.Argument(metavar="FILE", help="Reading sheets or recordings (CSV, TSV, XLSX).", show_default=False),
]
Unit = Annotated[str | None, option("--unit", 'Pressure unit of the readings, such as "psi" or "inHg".', _READING)]
Direction = Annotated[
    str | None, option("--direction", "pressure or vacuum.", _TEST, autocompletion=one_of("pressure", "vacuum"))
]
Absolute = Annotated[bool, option("--absolute", "Readings are absolute pressures (needs the barometer).", _READING)]
Barometer = Annotated[
    str | None, option("--barometer", 'Station pressure, such as "98.2 kPa" (not the sea-level figure).', _TEST)
]
Altitude = Annotated[
    str | None, option("--altitude", 'Height above sea level, such as "850 m", when there is no barometer.', _TEST)
]
_CIRCUIT = option(
    "--circuit",
    "crankcase, intake, impulse, fuel-line, carburettor-inlet, float-inlet, tank or rig.",
    _TEST,
    autocompletion=circuit_names,
)
Circuit = Annotated[str | None, _CIRCUIT]
CircuitName = Annotated[str, _CIRCUIT]
Volume = Annotated[str | None, option("--volume", 'Volume under test with hoses and gauge, such as "250 cm3".', _TEST)]
VolumeUncertainty = Annotated[
    str | None, option("--volume-uncertainty", 'Its doubt (95 %), "10 %" or "25 cm3".', _TEST)
]
Temperature = Annotated[str | None, option("--temperature", 'Of engine and room, such as "20 degC".', _TEST)]
Resolution = Annotated[
    str | None, option("--resolution", 'The smallest step read off the gauge, such as "0.25 psi".', _READING)
]
Zero = Annotated[str | None, option("--zero", 'What the gauge shows open to air, such as "0.3 psi".', _READING)]
Test = Annotated[
    int | None, option("--test", "Which of several tests in one file, counted from 1.", _READING, min=1, metavar="N")
]
Columns = Annotated[
    str | None, option("--columns", 'Headings for a file without any: "time (ms), -, pressure (bar)".', _READING)
]
AirNeeded = Annotated[
    str | None,
    option("--air-needed", 'Air that a tank\'s vent must let in, such as "12 cm3/min" for a small trimmer.', _TEST),
]
QuoteAt = Annotated[str, option("--quote-at", "Gauge pressure at which the leak is quoted.", _RESULT)]
LimitText = Annotated[
    str | None, option("--limit", '"50 kPa to 30 kPa in 20 s", "7 kPa in 60 s from 40 kPa" or "2.5 cm3/min".', _TEST)
]
HoldText = Annotated[str | None, option("--hold", "START..END in seconds: the part to use, chosen by hand.", _READING)]
Json = Annotated[bool, option("--json", "One JSON object a line, nothing else.", _RESULT)]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Only the result.", rich_help_panel=_RESULT)]


Open = Annotated[bool, option("--open", "Show the page in the browser.", _RESULT)]


def refuse_overwriting(target: Path | None, inputs: list[Path]) -> None:
    """The readings as received are never written over. Raises UsageError."""
    for path in inputs if target is not None and target.exists() else ():
        if path.exists() and target is not None and target.samefile(path):
            raise UsageError(
                f"{target} is the file of readings itself",
                remedy="Write to another name; the readings stay as they are.",
            )
