"""One table of knowledge: the shop's own copy when there is one, else the one that came with leakdown."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from leakdown.errors import InputError


def knowledge_table(package: str, name: str, folder: str) -> dict[str, Any]:
    """The TOML file `name` of `folder`, or of `package`'s knowledge folder. Raises InputError."""
    own = Path(folder) / name
    try:
        if folder and own.is_file():
            return tomllib.loads(own.read_text("utf-8"))
        packaged = resources.files(package).joinpath("knowledge", name)
        return tomllib.loads(packaged.read_text("utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(
            f"cannot read it: {error}", where=str(own), remedy="Mend the file or unset LEAKDOWN_KNOWLEDGE."
        ) from error


def misstated(folder: str, error: Exception) -> InputError:
    """The error to raise when the tables lack a name or hold a wrong value."""
    return InputError(
        f"the knowledge files lack or misstate {error}",
        where=folder,
        remedy="Compare with the files that came with leakdown, or unset LEAKDOWN_KNOWLEDGE.",
    )
