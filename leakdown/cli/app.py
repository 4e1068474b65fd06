"""The command line: which commands exist, and the one place where errors become words and exit codes."""

from __future__ import annotations

import importlib
import logging
import os
import sys
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from typing import Annotated

import typer

from leakdown import __version__
from leakdown.cli.console import say
from leakdown.cli.help_text import PlainGroup, shown_plainly
from leakdown.cli.pages import with_report_names
from leakdown.errors import LeakdownError


@dataclass(frozen=True)
class Command:
    """One command: its name, its module in `leakdown.cli`, what it does."""

    name: str
    module: str
    does: str
    panel: str
    hidden: bool = False


def _commands() -> tuple[Command, ...]:
    rows = tomllib.loads(resources.files("leakdown.cli").joinpath("commands.toml").read_text("utf-8"))
    return tuple(Command(name, **{"module": name, **row}) for name, row in rows.items())


COMMANDS = _commands()


EPILOG = (
    "Low pressure only, eye protection, no unregulated shop air, never turn the crank against closed ports. "
    "The maker's service manual, local codes and licensed practice come first."
)

app = typer.Typer(
    name="leakdown",
    help="Crankcase and fuel-system pressure/vacuum test: how big is the leak, how sure, where, too big?",
    epilog=EPILOG,
    no_args_is_help=True,
    cls=PlainGroup,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"leakdown {__version__}")
        raise typer.Exit()


@app.callback()
def leakdown(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    """Options that come before the command."""


def add_commands(words: list[str]) -> None:
    """Import what the words of the command line call for; the rest stand by name and help only."""
    asked = next((word for word in words if not word.startswith("-")), None)
    completing = any(name.startswith("_") and name.endswith("_COMPLETE") for name in os.environ)
    modules = {command.module for command in COMMANDS if completing or command.name == asked}
    panels = {command.name: command.panel for command in COMMANDS}
    for module in sorted(modules):
        importlib.import_module(f"leakdown.cli.{module}").register(app)
    for command in COMMANDS:
        if command.module not in modules:
            app.command(command.name, help=command.does, hidden=command.hidden)(_named_only(command))
    shown_plainly(app, panels)


def _named_only(command: Command) -> Callable[[], None]:
    def stand_in() -> None:
        raise AssertionError(f"{command.name} was not imported")

    return stand_in


def main() -> None:
    """Entry point: run the command and translate what went wrong."""
    _plain_output()
    try:
        words = with_report_names(sys.argv[1:])
        add_commands(words)
        app(words, standalone_mode=True)
    except LeakdownError as error:
        _fail(str(error), error.exit_status)
    except KeyboardInterrupt:
        _fail("stopped", 130)
    except BrokenPipeError:
        sys.stderr.close()
        raise SystemExit(1) from None
    except OSError as error:
        _fail(f"cannot read or write: {error.strerror or error}\n  Check the disk and the output.", 1)
    except Exception as error:
        if os.environ.get("LEAKDOWN_DEBUG") == "1":
            raise
        _fail(
            f"unexpected {type(error).__name__}: {error}\n  This is a fault in leakdown; run again with "
            "LEAKDOWN_DEBUG=1 for the details.",
            1,
        )


def _plain_output() -> None:
    """A terminal that cannot show a character shows a substitute; a closed stream takes all and gives nothing."""
    sys.stdin = sys.stdin or open(os.devnull, encoding="utf-8")  # noqa: SIM115 - as long as the program
    sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    logging.getLogger("matplotlib").setLevel(logging.ERROR)  # a home where it can keep nothing is no news to the user
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _fail(text: str, status: int) -> None:
    if os.environ.get("LEAKDOWN_DEBUG") == "1" and sys.exc_info()[0] is not None and status != 130:
        raise
    say(f"leakdown: {text}")
    raise SystemExit(status)
