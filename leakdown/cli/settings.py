"""`leakdown settings`: what the shop has set once, so that it need not be typed every time."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, say, width
from leakdown.errors import UsageError
from leakdown.settings import KEYS, NAMES, read_settings, set_value, settings_path, unset
from leakdown.settings.show import change_lines, settings_lines, settings_object

_app = typer.Typer(help="Set once what every test at this bench shares: barometer, gauge, limits, folders.")
_KEYS = f"Keys: {', '.join(key.name for key in KEYS)}."


def _matching(incomplete: str) -> list[str]:
    return [name for name in NAMES if name.startswith(incomplete)]


Key = Annotated[
    str, typer.Argument(help='Such as "altitude".', show_default=False, autocompletion=_matching, metavar="KEY")
]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(_app, name="settings")


@_app.callback(invoke_without_command=True)
def settings(context: typer.Context, as_json: o.Json = False) -> None:
    """Without a command: show."""
    if context.invoked_subcommand is None:
        show(as_json)
    elif as_json:
        raise UsageError("--json stands before the command", remedy="Write: leakdown settings show --json")


@_app.command("show")
def show(as_json: o.Json = False) -> None:
    """Show every setting, its value and what it means."""
    from leakdown.words.wrap import clean, wrapped

    found = read_settings(checks=_CHECKS)
    if as_json:
        print_json(settings_object(found))
        return
    own = (str(found.path), *(value for _, value in found.texts))
    out("\n".join(clean(line) for line in settings_lines(found, width(), wrapped)), own)
    for text in found.warnings:
        say(clean(text))


@_app.command(
    "set",
    epilog=f'Example: leakdown settings set altitude "850 m". {_KEYS}',
    context_settings={"ignore_unknown_options": True},  # -5 degC is a value
)
def set_(
    key: Key,
    value: Annotated[list[str], typer.Argument(help="The value with its unit.", show_default=False, metavar="VALUE")],
) -> None:
    """Set one, checked before it is kept."""
    _tell(change_lines(set_value(key, " ".join(value), checks=_CHECKS)))


@_app.command("unset", epilog=_KEYS)
def unset_(key: Key) -> None:
    """Unset one."""
    _tell(change_lines(unset(key)))


@_app.command("path")
def path() -> None:
    """Say which file the settings are kept in."""
    print(settings_path())


def _tell(lines: list[str]) -> None:
    from leakdown.words.wrap import clean

    for line in lines:
        say(clean(line))


def _limit(text: str) -> object:
    from leakdown.judge.limits import parse_limit

    return parse_limit(text)


def _gauge(text: str) -> object:
    from leakdown.live.profiles.files import profile_named

    return profile_named(text)


def _rig(text: str) -> object:
    from leakdown.judge.rig_store import path_of

    return path_of(text, Path())


_CHECKS = {"limit": _limit, "gauge": _gauge, "rig": _rig}
