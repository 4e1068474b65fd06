"""Options that several commands share: declared once; `leakdown.reading.Told` turns them into SI.

A command spells out those that it has: Typer reads its signature, and takes no bundle of options.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from leakdown.errors import UsageError


def option(name: str, does: str, panel: str | None = None, **more: Any) -> Any:
    """An option for Annotated: its name, what it does, its panel of the help text; `more` as Typer has it."""
    return typer.Option(name, help=does, rich_help_panel=panel, **more)


_TEST = "The test"
_READING = "Reading the file"
_RESULT = "The result"

Files = Annotated[list[Path], typer.Argument(help="Reading sheets or recordings (CSV, TSV, XLSX).", show_default=False)]
Unit = Annotated[
    str | None,
    typer.Option("--unit", help='Pressure unit of the readings, such as "psi" or "inHg".', rich_help_panel=_READING),
]
Direction = Annotated[
    str | None, typer.Option("--direction", help="pressure or vacuum.", metavar="DIRECTION", rich_help_panel=_TEST)
]
Absolute = Annotated[
    bool,
    typer.Option("--absolute", help="Readings are absolute pressures (needs the barometer).", rich_help_panel=_READING),
]
Barometer = Annotated[
    str | None,
    typer.Option(
        "--barometer", help='Station pressure, such as "98.2 kPa" (not the sea-level figure).', rich_help_panel=_TEST
    ),
]
Altitude = Annotated[
    str | None,
    typer.Option(
        "--altitude", help='Height above sea level, such as "850 m", when there is no barometer.', rich_help_panel=_TEST
    ),
]
_CIRCUIT = typer.Option(
    "--circuit",
    help="crankcase, intake, impulse, fuel-line, carburettor-inlet, float-inlet, tank or rig.",
    rich_help_panel=_TEST,
)
Circuit = Annotated[str | None, _CIRCUIT]
CircuitName = Annotated[str, _CIRCUIT]
Volume = Annotated[
    str | None,
    typer.Option("--volume", help='Volume under test with hoses and gauge, such as "250 cm3".', rich_help_panel=_TEST),
]
VolumeUncertainty = Annotated[
    str | None,
    typer.Option("--volume-uncertainty", help='Its doubt (95 %), "10 %" or "25 cm3".', rich_help_panel=_TEST),
]
Temperature = Annotated[
    str | None, typer.Option("--temperature", help='Of engine and room, such as "20 degC".', rich_help_panel=_TEST)
]
Resolution = Annotated[
    str | None,
    typer.Option(
        "--resolution", help='The smallest step read off the gauge, such as "0.25 psi".', rich_help_panel=_READING
    ),
]
Zero = Annotated[
    str | None,
    typer.Option("--zero", help='What the gauge shows open to air, such as "0.3 psi".', rich_help_panel=_READING),
]
Test = Annotated[
    int | None,
    typer.Option("--test", help="Which of several tests in one file, counted from 1.", min=1, rich_help_panel=_READING),
]
Columns = Annotated[
    str | None,
    typer.Option(
        "--columns",
        help='Headings for a file without any, such as "time (ms), -, pressure (bar)".',
        rich_help_panel=_READING,
    ),
]
QuoteAt = Annotated[
    str, typer.Option("--quote-at", help="Gauge pressure at which the leak is quoted.", rich_help_panel=_RESULT)
]
LimitText = Annotated[
    str | None,
    typer.Option(
        "--limit",
        help='"50 kPa to 30 kPa in 20 s", "7 kPa in 60 s from 40 kPa" or "2.5 cm3/min".',
        rich_help_panel=_TEST,
    ),
]
HoldText = Annotated[
    str | None,
    typer.Option("--hold", help="START..END in seconds: the part to use, chosen by hand.", rich_help_panel=_READING),
]
Json = Annotated[bool, typer.Option("--json", help="One JSON object a line, nothing else.", rich_help_panel=_RESULT)]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Only the result.", rich_help_panel=_RESULT)]


def refuse_overwriting(target: Path | None, inputs: list[Path]) -> None:
    """The readings as received are never written over. Raises UsageError."""
    for path in inputs if target is not None and target.exists() else ():
        if path.exists() and target is not None and target.samefile(path):
            raise UsageError(
                f"{target} is the file of readings itself",
                remedy="Write to another name; the readings stay as they are.",
            )
