"""Bytes of a file -> text, whatever editor, logger or power cut wrote them."""

from __future__ import annotations

import codecs
import re

from leakdown.errors import InputError

_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_MAGIC = {
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"\x1f\x8b": "a compressed file",
    b"SQLite format 3": "a database",
    b"BZh": "a compressed file",
    b"{\\rtf": "a word-processor document",
}
_CONTROLS = re.compile("[\x01-\x08\x0e-\x19\x1b-\x1f\x7f]")


def decode(data: bytes, source: str) -> str:
    """Text of `data` with plain line feeds and no NULs. Raises InputError for anything but text."""
    for magic, what in _MAGIC.items():
        if data.startswith(magic):
            raise InputError(
                f"this is {what}, not a table of readings",
                where=source,
                remedy="Save the readings as CSV or XLSX.",
            )
    text = _text(data)
    sample = text[:20_000]
    if len(_CONTROLS.findall(sample)) > 0.01 * len(sample):
        raise InputError(
            "this is a binary file, not a table of readings",
            where=source,
            remedy="Save the readings as CSV or XLSX.",
        )
    text = text.removeprefix("\ufeff").removeprefix("ï»¿").rstrip("\x00\x1a")
    if "\x00" in text:
        text = re.sub("\x00+", "\n", text)  # a block of NULs is where a log was cut and went on
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _text(data: bytes) -> str:
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            return data[len(bom) :].decode(encoding, errors="replace")
    head = data[:2000].rstrip(b"\x00")
    evens, odds = head[0::2].count(0), head[1::2].count(0)
    if len(head) > 3 and max(evens, odds) > 0.3 * len(head) / 2 and min(evens, odds) < 0.05 * len(head):
        return data.decode("utf-16-be" if evens > odds else "utf-16-le", errors="replace")
    for encoding in ("utf-8", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1")
