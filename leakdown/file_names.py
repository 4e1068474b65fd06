"""Names of files and folders that every system takes: what is written here is copied to other machines."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from datetime import datetime

from leakdown.errors import UsageError

LONGEST = 100
"""Bytes of a name that is made here: room for a folder before it on systems that count 260 for both."""

LONGEST_ANYWHERE = 240
"""Bytes that every usual file system takes in one name (255), less what is put before it while it is written."""

_UNSAFE = re.compile(r'[<>:"/\\|?*]')
# Names of Windows devices, with any ending: its documentation on naming files, and CPython's ntpath.isreserved
_DEVICE = re.compile(r"con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9\u00b9\u00b2\u00b3]", re.IGNORECASE)


def trouble(name: str, longest: int = LONGEST_ANYWHERE) -> str:
    """Why some system refuses this name, in words that end "this name ..."; "" when none does."""
    if not name or name in (".", ".."):
        return "is none"
    if _UNSAFE.search(name) or any(_is_unseen(char) for char in name):
        return "has characters that not every system takes"
    if name[-1] in ". " or name[0] == " ":
        return "begins with a blank, or ends with a blank or a dot"
    if is_device(name):
        return "is reserved on Windows"
    return "is too long" if size(name) > longest else ""


def is_device(name: str) -> bool:
    """Whether Windows takes this name, with any ending, for a device."""
    return bool(_DEVICE.fullmatch(name.split(".")[0].rstrip()))


def size(name: str) -> int:
    """Bytes of a name on disk, at most."""
    return len(name.encode("utf-8", "surrogatepass"))


def folded(name: str) -> str:
    """What two names have in common when a file system may take them for one."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFKC", name).casefold())


def file_name(original: str, taken: Iterable[str] = (), standby: str = "recording", longest: int = LONGEST) -> str:
    """A safe file name like `original`; one that clashes with a name in `taken` gets a number.

    standby: the name where nothing of the original is left. Raises UsageError after 100 000 clashes.
    """
    base = re.split(r"[/\\]", unicodedata.normalize("NFC", original))[-1]
    base = "".join("_" if _is_unseen(c) else c for c in base)
    base = _UNSAFE.sub("_", base).strip().rstrip(". ")
    base = re.sub(r"^\.+", "_", base) or standby
    if is_device(base):
        base = f"_{base}"
    stem, dot, ending = base.rpartition(".")
    if not dot or len(ending) > 10:
        stem, ending = base, ""
    known = {folded(name) for name in taken}
    for number in range(1, 100_000):
        tail = ("" if number == 1 else f"-{number}") + (f".{ending}" if ending else "")
        name = (shortened(stem, longest - size(tail)) or standby) + tail
        if folded(name) not in known:
            return name
    raise UsageError(f"too many files are called {base!r}", remedy="Rename the file.")


def stamped(stem: str, moment: datetime, ending: str = ".csv") -> str:
    """A safe file name with a moment in it, to the second: test-20260301-140500.csv."""
    return file_name(f"{stem}-{moment:%Y%m%d-%H%M%S}{ending}")


def shortened(text: str, most_bytes: int) -> str:
    """As much of the text as fits, whole letters only, with no dot or blank at its end."""
    return text.encode("utf-8", "replace")[: max(most_bytes, 0)].decode("utf-8", "ignore").rstrip(". ")


def _is_unseen(char: str) -> bool:
    """A control, a half of a letter, or a mark that steers the direction of writing."""
    return unicodedata.category(char)[0] == "C"
