"""`leakdown circuits`: how each circuit is set up, what is healthy, what to mind."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, width
from leakdown.errors import UsageError


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("circuits", epilog="Example: leakdown circuits tank")(circuits)


def circuits(
    circuit: Annotated[str | None, typer.Argument(help="One circuit; all in short without it.")] = None,
    engine: Annotated[str, typer.Option("--engine", help="two-stroke or four-stroke.")] = "two-stroke",
    as_json: o.Json = False,
) -> None:
    """Show how a circuit is sealed, filled and judged."""
    from leakdown.circuits.set_up import all_set_ups, set_up
    from leakdown.circuits.show import set_up_lines, set_up_object
    from leakdown.recording import circuit_named
    from leakdown.words.wrap import wrapped

    if engine not in ("two-stroke", "four-stroke"):
        raise UsageError(f"--engine {engine!r} is not known", remedy="Say two-stroke or four-stroke.")
    if circuit is None:
        for found in all_set_ups():
            brief = f"{found.circuit:<20}{found.name}"
            print(json.dumps(set_up_object(found), ensure_ascii=False) if as_json else brief)
        return
    found = set_up(circuit_named(circuit), engine)  # type: ignore[arg-type]
    if as_json:
        print(json.dumps(set_up_object(found), ensure_ascii=False))
        return
    out("\n".join(set_up_lines(found, width(), wrapped)))
