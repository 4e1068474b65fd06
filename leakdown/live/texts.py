"""What a live test has to say, by name: the texts of texts.toml, their {places} filled in."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any

_TEXTS: dict[str, Any] = tomllib.loads(resources.files("leakdown.live").joinpath("texts.toml").read_text("utf-8"))
PORT_CAUSES: list[dict[str, str]] = _TEXTS["port_cause"]
DIGITS: dict[str, list[str]] = _TEXTS["digits"]


def text(name: str, **values: object) -> str:
    """One text. KeyError for an unknown name or a place without a value."""
    return str(_TEXTS["text"][name].format(**values))


def told(name: str, **values: object) -> dict[str, str]:
    """What is wrong and the remedy, as an error takes them: `UsageError(**told("no unit"))`. KeyError as in `text`."""
    return {part: line.format(**values) for part, line in _TEXTS["error"][name].items()}
