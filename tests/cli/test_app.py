"""The command table that `--help` reads agrees with the commands, and the README names them all."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest
import typer

from leakdown.cli.app import COMMANDS
from tests.cli.program import leakdown

ROOT = Path(__file__).resolve().parents[2]


def _registered(module: str) -> dict[str, tuple[str, bool]]:
    """Name -> first sentence of the help and whether it is hidden, as the module itself registers them."""
    app = typer.Typer()
    importlib.import_module(f"leakdown.cli.{module}").register(app)
    found = {}
    for command in app.registered_commands:
        words = (command.help or command.callback.__doc__ or "").strip().split("\n\n")[0]
        found[command.name] = (" ".join(words.split()), bool(command.hidden))
    for group in app.registered_groups:
        inner = group.typer_instance.info
        name = group.name if isinstance(group.name, str) else inner.name
        found[name] = (" ".join(str(inner.help).split()), False)
    return found


@pytest.mark.parametrize("module", sorted({command.module for command in COMMANDS}))
def test_the_table_and_the_commands_agree(module: str) -> None:
    table = {c.name: (c.does, c.hidden) for c in COMMANDS if c.module == module}
    assert table == _registered(module)


def test_help_names_every_command_without_importing_any() -> None:
    out = leakdown("--help").out
    for command in COMMANDS:
        assert command.hidden or f" {command.name} " in out


@pytest.mark.slow
@pytest.mark.parametrize("name", [c.name for c in COMMANDS if not c.hidden])
def test_every_command_has_help_and_stands_in_the_readme(name: str) -> None:
    assert leakdown(name, "--help").status == 0
    assert f"leakdown {name}" in (ROOT / "README.md").read_text("utf-8")


def test_an_unknown_command_is_bad_usage_and_near_ones_are_offered() -> None:
    ran = leakdown("analys")
    assert ran.status == 2 and "analyse" in ran.err
