"""`leakdown convert`: what the reader understood, as a recording in the project's own form."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import put, say


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("convert", epilog="Example: leakdown convert sheet.xlsx --out test.csv")(convert)


def convert(
    file: Annotated[Path, typer.Argument(help="A reading sheet or recording.", show_default=False)],
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="File to write; standard output without it.", metavar="FILE")
    ] = None,
    unit: o.Unit = None,
    direction: o.Direction = None,
    absolute: o.Absolute = False,
    zero: o.Zero = None,
    test: o.Test = None,
    columns: o.Columns = None,
    barometer: o.Barometer = None,
    altitude: o.Altitude = None,
    quiet: o.Quiet = False,
) -> None:
    """Show what was understood of a sheet: seconds, gauge kPa, marks and conditions."""
    from leakdown.reading import Told, told_recording
    from leakdown.sheets.native_write import write

    o.refuse_overwriting(out, [file])
    told = Told(unit, direction, absolute, barometer, altitude, zero=zero, test=test, columns=columns)
    recording = told_recording(file, told)
    if out is not None:
        write(recording, out)
    else:
        text = io.StringIO()
        write(recording, text)
        put(text.getvalue())
    if not quiet:
        for remark in recording.remarks:
            say(f"{file}: {remark}")
        if out is not None:
            say(f"{recording.time_s.size} readings written to {out}")
