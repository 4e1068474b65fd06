"""The settings in words: every one with its value and meaning, one object for programs, what a change did."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from leakdown.settings.change import Change
from leakdown.settings.keys import KEYS
from leakdown.settings.shop import ShopSettings

Wrap = Callable[[str, int, str, str], list[str]]
_WIDEST_VALUE = 28  # a longer one, such as a folder, pushes its meaning to the next line


def settings_object(settings: ShopSettings) -> dict[str, Any]:
    """Plain text throughout; only what is set."""
    return {"path": str(settings.path), "settings": dict(settings.texts), "warnings": list(settings.warnings)}


def settings_lines(settings: ShopSettings, width: int, wrap: Wrap) -> list[str]:
    """Where they are kept, then name, value ("-" when unset) and meaning in columns."""
    rows = _rows(settings)
    names = max(len(name) for name, _, _ in rows) + 2
    values = max(len(value) for _, value, _ in rows if len(value) <= _WIDEST_VALUE) + 2
    there = "" if settings.path.exists() else " (no such file yet)"
    lines = [f"{settings.path}{there}"]
    for name, value, means in rows:
        start, gap = f"{name:<{names}}{value:<{values}}", " " * (names + values)
        if width - len(gap) < 30:
            lines += [start.rstrip(), *wrap(means, width, "    ", "    ")]
        elif not means or len(start) > len(gap):
            lines += [start.rstrip(), *wrap(means, width, gap, gap)]
        else:
            lines += wrap(means, width, start, gap)
    return lines


def _rows(settings: ShopSettings) -> list[tuple[str, str, str]]:
    rows = []
    for key in KEYS:
        found = [(name, settings.text(name)) for name in key.names()]
        given = [(name, text, "") for name, text in found if text is not None]
        if key.is_pattern or not given:
            rows.append((key.name, "" if given else "-", key.means))
        rows += given if key.is_pattern else [(name, text, key.means) for name, text, _ in given]
    return rows


def change_lines(change: Change) -> list[str]:
    """What a change did, a line each."""
    name, key = change.name, change.key
    if change.text is None:
        was = f"unset (it was {change.before})" if change.before is not None else "was not set"
        return [f"{name}: {was}"]
    lines = [f"{name}: {change.text}, {key.used}" if key else f"{name}: {change.text}"]
    lines += [f"{other}: unset (it was {text}), since {name} says the same" for other, text in change.also_unset]
    return lines
