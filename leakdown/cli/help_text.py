"""How `--help` shows things: commands by what they are for, a flag as a flag, a value by its kind; and what a shell
may complete."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

from leakdown.errors import LeakdownError


class _Plain:
    """A flag takes no value, and its help says none."""

    def get_params(self, ctx: Any) -> list[Any]:
        """The parameters with the kind of their value beside them."""
        params: list[Any] = super().get_params(ctx)  # type: ignore[misc]
        for param in params:
            if getattr(param, "is_flag", False):
                param.metavar = ""
            elif param.metavar is None and param.param_type_name == "option":
                param.metavar = "TEXT"
            elif param.param_type_name == "argument" and hasattr(param, "display_type_rich"):
                param.display_type_rich = lambda ctx: ""  # its name says what it is
        return params


class PlainCommand(_Plain, TyperCommand):
    """A command with plain help."""


class PlainGroup(_Plain, TyperGroup):
    """A group of commands with plain help."""


def shown_plainly(app: typer.Typer, panels: Mapping[str, str] | None = None) -> None:
    """Give every command and group of an app plain help, and a panel by its name."""
    for command in app.registered_commands:
        command.cls = PlainCommand
        if panels and isinstance(command.name, str) and command.name in panels:
            command.rich_help_panel = panels[command.name]
    for group in app.registered_groups:
        inner = group.typer_instance
        assert inner is not None
        inner.info.cls = PlainGroup
        name = group.name if isinstance(group.name, str) else inner.info.name
        if panels and isinstance(name, str) and name in panels:
            group.rich_help_panel = panels[name]
        shown_plainly(inner)


# ---------------------------------------------------------------- what a shell completes


def one_of(*words: str) -> Callable[[str], list[str]]:
    """Completes one of these words."""
    return lambda incomplete: [word for word in words if word.startswith(incomplete)]


def circuit_names(incomplete: str) -> list[str]:
    """Completes a circuit."""
    from leakdown.circuits import CIRCUITS

    return one_of(*CIRCUITS)(incomplete)


def intakes(incomplete: str) -> list[str]:
    """Completes a kind of intake."""
    from leakdown.where.knowledge import INTAKES

    return one_of(*INTAKES)(incomplete)


def seal_lips(incomplete: str) -> list[str]:
    """Completes the way in which the lips face."""
    from leakdown.where.knowledge import LIPS

    return one_of(*LIPS)(incomplete)


def observation_ids(incomplete: str) -> list[tuple[str, str]]:
    """Completes an id of what can be seen, with its words."""
    from leakdown.where.answers import all_observations

    return [(row.id, row.text) for row in all_observations() if row.id.startswith(incomplete)]


def job_references(ctx: typer.Context, incomplete: str) -> list[str]:
    """Completes the reference of a job in the folder that was given, or the shop's."""
    from leakdown.jobs.store import job_names
    from leakdown.settings import read_settings

    try:
        folder = ctx.params.get("folder") or read_settings().jobs or Path("jobs")
        return [name for name in job_names(Path(folder)) if name.startswith(incomplete)]
    except LeakdownError:
        return []  # a shell that completes has no place for a message
