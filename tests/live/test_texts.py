"""Every text of a live test is said somewhere, and whoever says it fills in all its places."""

from __future__ import annotations

import ast
import string
import tomllib
from pathlib import Path

import leakdown

ROOT = Path(leakdown.__file__).parent
FILES = [*(ROOT / "live").rglob("*.py"), ROOT / "cli" / "log.py"]
TABLES = tomllib.loads((ROOT / "live" / "texts.toml").read_text("utf-8"))


def places(*lines: str) -> set[str]:
    return {name for line in lines for _, name, _, _ in string.Formatter().parse(line) if name is not None}


def calls() -> list[tuple[str, set[str], bool]]:
    """(name, keywords, whether there are others that only the run knows) of each call that names its text."""
    found = []
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("text", "told"):
                given = {word.arg for word in node.keywords if word.arg}
                starred = any(word.arg is None for word in node.keywords)
                found += [
                    (one.value, given, starred)
                    for one in ast.walk(node.args[0])
                    if isinstance(one, ast.Constant) and isinstance(one.value, str)
                ]
    return found


def test_every_place_of_a_text_is_filled_in():
    texts = {name: places(line) for name, line in TABLES["text"].items()}
    texts |= {name: places(*row.values()) for name, row in TABLES["error"].items()}
    wrong = [(name, texts.get(name)) for name, given, starred in calls() if not starred and texts.get(name) != given]
    assert not wrong


def test_every_text_is_said():
    source = "".join(path.read_text("utf-8") for path in FILES)
    assert not [name for table in ("text", "error") for name in TABLES[table] if f'"{name}"' not in source]
