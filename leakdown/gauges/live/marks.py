"""One key for each thing that is done during a hold: greasy hands do not type. Pure."""

from __future__ import annotations

MARKS: dict[str, str] = {
    "b": "boot moved",
    "t": "crank turned",
    "s": "soap",
    "g": "grease on a seal",
    "o": "blank cracked open",
}


def mark_for(key: str) -> str | None:
    """The mark that `key` stands for, or None: then free text is asked for."""
    return MARKS.get(key.strip().lower())


def legend() -> str:
    """The keys in one line."""
    return "  ".join(f"{key} {text}" for key, text in MARKS.items()) + "  other key: free text"
