"""The command line: which commands exist, and the one place where errors become words and exit codes."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

import typer

from leakdown import __version__
from leakdown.cli.console import say
from leakdown.errors import LeakdownError


@dataclass(frozen=True)
class Command:
    """One command: its name, its module in `leakdown.cli`, what it does."""

    name: str
    module: str
    does: str
    hidden: bool = False


_SIZE = "Size the leak in a reading sheet or recording, judge it, and write a report."

COMMANDS = (
    Command("analyse", "analyse", _SIZE),
    Command("analyze", "analyse", _SIZE, hidden=True),
    Command("log", "log", "Record a live test from a gauge; nothing that it sends is lost."),
    Command(
        "sheet",
        "sheet",
        "Print a blank reading sheet for one circuit: times filled in, target and caution named.",
    ),
    Command("locate", "locate", "Rank where the leak is, from pressure and vacuum tests and what was seen."),
    Command("compare", "locate", "Say how much smaller or larger a leak became."),
    Command(
        "suspects",
        "suspects",
        "Rank what can be wrong, from the complaint and what was seen, and say what to check next.",
    ),
    Command(
        "job",
        "job",
        "Job records: complaint, tests, finding, repair, re-test, verdict, in a folder of plain files.",
    ),
    Command(
        "plan", "plan", "Say how long a hold decides the limit with this gauge, and what it can see at best."
    ),
    Command("volume", "volume", "Volume under test, from a bottle, a syringe or dimensions."),
    Command("circuits", "circuits", "Show how a circuit is sealed, filled and judged."),
    Command("rig", "rig", "Rig first: keep its own leak, take it off, check with an orifice."),
    Command("repeats", "repeats", "Pool several holds of one test: do they agree, how well do they repeat."),
    Command(
        "reckon",
        "reckon",
        "Reckon without a recording: a leak that will not pump up, its share of idle air, a centre seal.",
    ),
    Command("gauges", "gauges", "List the serial ports present and the gauge profiles known."),
    Command(
        "simulate",
        "simulate",
        "Play a test as a virtual gauge; the first line is the port to give to `leakdown log`.",
    ),
    Command(
        "convert", "convert", "Show what was understood of a sheet: seconds, gauge kPa, marks and conditions."
    ),
    Command(
        "settings",
        "settings",
        "Set once what every test at this bench shares: barometer, gauge, limits, folders.",
    ),
    Command("demo", "demo", "Run the main job on a bundled, invented scenario and say which files it wrote."),
)


EPILOG = (
    "Low pressure only, eye protection, no unregulated shop air, never turn the crank against closed ports. "
    "The maker's service manual, local codes and licensed practice come first."
)

app = typer.Typer(
    name="leakdown",
    help="Crankcase and fuel-system pressure/vacuum test: how big is the leak, how sure, where, too big?",
    epilog=EPILOG,
    no_args_is_help=True,
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
    for module in sorted(modules):
        importlib.import_module(f"leakdown.cli.{module}").register(app)
    for command in COMMANDS:
        if command.module not in modules:
            app.command(command.name, help=command.does, hidden=command.hidden)(_named_only(command))


def _named_only(command: Command) -> Callable[[], None]:
    def stand_in() -> None:
        raise AssertionError(f"{command.name} was not imported")

    return stand_in


def main() -> None:
    """Entry point: run the command and translate what went wrong."""
    _plain_output()
    add_commands(sys.argv[1:])
    try:
        app(standalone_mode=True)
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
    """A terminal that cannot show a character shows a substitute instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _fail(text: str, status: int) -> None:
    if os.environ.get("LEAKDOWN_DEBUG") == "1" and sys.exc_info()[0] is not None and status != 130:
        raise
    say(f"leakdown: {text}")
    raise SystemExit(status)
