"""`leakdown circuits`: how each circuit is set up, what is healthy, what to mind."""

from __future__ import annotations

from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, width
from leakdown.cli.results import shop_settings
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
    from leakdown.circuits import CIRCUITS, circuit_named, for_engine
    from leakdown.circuits import circuit as circuit_of
    from leakdown.words.circuits import circuit_lines, circuit_object
    from leakdown.words.wrap import wrapped

    if engine not in ("two-stroke", "four-stroke"):
        raise UsageError(f"--engine {engine!r} is not known", remedy="Say two-stroke or four-stroke.")
    shop = shop_settings()
    if circuit is None:
        for found in map(circuit_of, CIRCUITS):
            if as_json:
                print_json(circuit_object(found, shop))
            else:
                out(f"{found.id:<20}{found.name}")
        return
    found = for_engine(circuit_named(circuit), engine)  # type: ignore[arg-type]
    if as_json:
        print_json(circuit_object(found, shop))
        return
    out("\n".join(circuit_lines(found, width(), wrapped, shop)))
