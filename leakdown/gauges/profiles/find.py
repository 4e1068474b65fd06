"""Where gauge profiles are looked for: small TOML files; users add their own.

Looked for in the folder named by LEAKDOWN_GAUGES, then ~/.config/leakdown/gauges, then the ones that
come with the program; the first of a name wins. `README.md` here lists every key.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

from leakdown.errors import UsageError
from leakdown.gauges.profiles.parse import read_profile
from leakdown.gauges.profiles.profile import AUTO, Profile

FOLDER_VARIABLE = "LEAKDOWN_GAUGES"


def profile_named(name: str) -> Profile:
    """The profile `name`, or the one in the file that `name` is the path of. Raises UsageError."""
    if name == "auto":
        return AUTO
    if name.endswith(".toml"):
        return read_profile(Path(name))
    for path in _files():
        if path.name == f"{name}.toml":
            return read_profile(path)
    known = ", ".join(["auto", *sorted({path.name[:-5] for path in _files()})])
    raise UsageError(f"no gauge profile {name!r}", remedy=f"Known: {known}. Your own go to {user_folder()}.")


def profiles() -> list[Profile]:
    """Every profile that can be used, `auto` first. Raises UsageError for a damaged one."""
    seen: dict[str, Profile] = {}
    for path in _files():
        seen.setdefault(path.name[:-5], read_profile(path))
    return [AUTO, *sorted(seen.values(), key=lambda p: p.name)]


def user_folder() -> Path:
    """Where a user's own profiles are looked for."""
    given = os.environ.get(FOLDER_VARIABLE)
    if given:
        return Path(given)
    base = os.environ.get("XDG_CONFIG_HOME") or os.path.join(os.path.expanduser("~"), ".config")
    return Path(base) / "leakdown" / "gauges"


def _files() -> Iterator[Path]:
    own = user_folder()
    if own.is_dir():
        yield from sorted(own.glob("*.toml"))
    bundled = Path(str(resources.files("leakdown.gauges.profiles")))
    yield from sorted(bundled.glob("*.toml"))
