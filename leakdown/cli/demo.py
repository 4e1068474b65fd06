"""`leakdown demo`: the main job on the bundled scenario."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("demo")(demo)


def demo(
    folder: Annotated[Path, typer.Argument(help="Where to write the files.")] = Path("leakdown-demo"),
) -> None:
    """Run the main job on the bundled scenario and say which files it wrote."""
    from leakdown.cli import demo_run

    demo_run.run(folder)
