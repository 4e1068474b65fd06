"""One key for each thing that is done during a hold: greasy hands do not type. Pure."""

from __future__ import annotations

OPENED = "blank cracked open"
MARKS: dict[str, str] = {
    "b": "boot moved",
    "t": "crank turned",
    "s": "soap",
    "g": "grease on a seal",
    "o": OPENED,
}


def mark_for(key: str) -> str | None:
    """The mark that `key` stands for, or None: then free text is asked for."""
    return MARKS.get(key.strip().lower())


def legend(width: int = 200) -> list[str]:
    """The keys in as few lines of `width` as they need."""
    words = [*(f"{key} {text}" for key, text in MARKS.items()), "other key: a note", "q end"]
    lines = [""]
    for word in words:
        longer = f"{lines[-1]}   {word}" if lines[-1] else word
        if len(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
