"""Names from outside that become names on disk: nothing in them can lead out of a folder."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from leakdown.errors import UsageError

LONGEST_REFERENCE = 64
LONGEST_FILE = 100
_REFERENCE = re.compile(r"[^\W_][\w .()+-]*")
_UNSAFE = re.compile(r'[<>:"/\\|?*]')
# device names of Windows, with any ending; from its documentation on naming files, by memory
_DEVICE = re.compile(r"(con|prn|aux|nul|(com|lpt)[0-9\u00b9\u00b2\u00b3])", re.IGNORECASE)


def checked_reference(text: str) -> str:
    """A job reference that is safe as a folder's name on any system. Raises UsageError."""
    plain = unicodedata.normalize("NFC", text)
    if not _REFERENCE.fullmatch(plain) or ".." in plain or plain[-1] in ". ":
        why = "use letters, digits, - _ . ( ) + and blanks, beginning with a letter or digit"
    elif len(plain.encode("utf-8")) > LONGEST_REFERENCE:
        why = f"use at most {LONGEST_REFERENCE} bytes"
    elif _is_device(plain):
        why = "this name is reserved on Windows"
    else:
        return plain
    raise UsageError(f"{text!r} cannot be a job reference", remedy=f'{why[0].upper()}{why[1:]}: "2026-017".')


def is_reference(text: str) -> bool:
    """Whether a folder's name can be that of a job."""
    try:
        return checked_reference(text) == unicodedata.normalize("NFC", text)
    except UsageError:
        return False


def folded(name: str) -> str:
    """What two names have in common when a file system may take them for one."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFKC", name).casefold())


def file_name(original: str, taken: Iterable[str] = ()) -> str:
    """A safe file name like `original`; a name that clashes with one in `taken` gets a number."""
    base = re.split(r"[/\\]", unicodedata.normalize("NFC", original))[-1]
    base = "".join("_" if unicodedata.category(c)[0] == "C" else c for c in base)
    base = _UNSAFE.sub("_", base).strip().rstrip(". ")
    base = re.sub(r"^\.+", "_", base) or "recording"
    if _is_device(base):
        base = f"_{base}"
    stem, dot, ending = base.rpartition(".")
    if not dot or len(ending) > 10:
        stem, ending = base, ""
    known = {folded(name) for name in taken}
    for number in range(1, 100_000):
        tail = ("" if number == 1 else f"-{number}") + (f".{ending}" if ending else "")
        name = _cut(stem, LONGEST_FILE - len(tail.encode("utf-8"))) + tail
        if folded(name) not in known:
            return name
    raise UsageError(f"too many files are called {base!r}", remedy="Rename the file.")


def _is_device(name: str) -> bool:
    return bool(_DEVICE.fullmatch(name.split(".")[0].rstrip()))


def _cut(text: str, most_bytes: int) -> str:
    return text.encode("utf-8")[:most_bytes].decode("utf-8", "ignore").rstrip(". ") or "recording"
