"""Bytes from a gauge -> whole lines of clean text, and the record of what a line says. Pure.

Lines end in CR, LF or CRLF. A gauge that ends its messages with silence has no line end at all: the
caller, who owns the clock, says when the line has been quiet long enough (`quiet`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import reduce
from operator import xor

from leakdown.quantities import PressureUnit

OVERFLOW = 9.8e37
"""SCPI-99 vol. 1, sec. 7.2.1.4: 9.9E37 stands for infinity and 9.91E37 for "not a number" (from memory)."""

MAX_LINE_BYTES = 4096
"""A longer "line" is noise at the wrong baud rate; it is cut here so that memory stays bounded."""

_ANSI = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(?:\x07|\x1b\\)?|[@-Z\\-_])")
_FRAME = re.compile(rb"\x02|\x03.{0,2}\Z")
_SUMMED = re.compile(r"[$!]?(.+)\*([0-9A-Fa-f]{2})")
_ENDS = re.compile(rb"\r\n|\r|\n")
_PLAIN = re.compile(r"[\t\x20-\x7e]*\Z")
# Letters outside ASCII that gauges do print: degree, micro, superscripts, minus signs, Western,
# Cyrillic and CJK words. Anything else in the upper half is line noise.
_PRINTABLE = re.compile(
    "[\\t\\x20-\\x7e°\u2103\u2109µμ²³±·×Ω₂Δ\u2212\u2010-\u2015\u2018-\u201f\u2032\u2033\u00a0\u2009\u202f"
    "ÄÖÜäöüßàáâãåçèéêëìíîïñòóôõøùúûýÀÁÉÈÍÓÚÑÇ\u0100-\u017f\u0400-\u04ff\u3040-\u30ff\u4e00-\u9fff\uff1a]*\\Z"
)


@dataclass(frozen=True)
class Line:
    """One line as text without its end; `damaged` when it held bytes that no gauge prints."""

    text: str
    damaged: bool = False


@dataclass(frozen=True)
class Sample:
    """What one message of a gauge says: `value` in `unit` as shown (vacuum already negative), or `why` not.

    arrival_s: monotonic clock of the computer. device_s: the gauge's own clock when it sends one whose
    unit is known. number: the value's characters, "" where these need not keep their length. flips_sign:
    the value was shown as a vacuum, without its minus. A line looked at by itself has no arrival and no raw.
    """

    arrival_s: float = 0.0
    raw: str = ""
    value: float | None = None
    unit: PressureUnit | None = None
    why: str = ""
    device_s: float | None = None
    temperature_degc: float | None = None
    number: str = ""
    flips_sign: bool = False

    def at(self, arrival_s: float, raw: str) -> Sample:
        """The same said by a message; quicker than `replace`, for every line passes here."""
        value, why = self.value, self.why
        if value is not None and not abs(value) < OVERFLOW:
            value, why = None, "a number beyond any gauge"
        return Sample(
            arrival_s, raw, value, self.unit, why, self.device_s, self.temperature_degc, self.number, self.flips_sign
        )

    def refused(self, why: str) -> Sample:
        """The same message, no longer taken for a reading."""
        return replace(self, value=None, why=why)


def checksum(text: str) -> int:
    """XOR of all characters."""
    return reduce(xor, text.encode("latin-1", "replace"), 0)


def split_sum(text: str) -> tuple[str, bool | None]:
    """A line without its *HH, and whether that is the XOR of it ($ or ! apart); the line and None without."""
    match = _SUMMED.fullmatch(text) if text[-3:-2] == "*" else None
    return (text[:-3], checksum(match.group(1)) == int(match.group(2), 16)) if match else (text, None)


def clean(raw: bytes) -> Line:
    """Decode (UTF-8, else Latin-1), strip NULs and terminal colours, and say whether noise was in it."""
    raw = _FRAME.sub(b"", raw.replace(b"\x00", b""))
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    if _PLAIN.match(text):
        return Line(text.strip())
    text = _ANSI.sub("", text).lstrip("\ufeff").strip()
    damaged = not _PRINTABLE.match(text)
    return Line("".join(c if c.isprintable() or c == "\t" else "\ufffd" for c in text), damaged)


class LineSplitter:
    """Incremental: feed bytes as they come, get the lines that became whole."""

    def __init__(self, end: bytes | None = None) -> None:
        """`end` fixes the line end (say b";"); without it CR, LF and CRLF are all understood."""
        self._ends = re.compile(re.escape(end)) if end else _ENDS
        self._rest = b""
        self._after_cr = False
        self._ends_seen = False

    @property
    def pending(self) -> bool:
        """True while part of a line is waiting for its end."""
        return bool(self._rest)

    def feed(self, chunk: bytes) -> list[Line]:
        """The lines completed by `chunk`; empty ones are left out."""
        if self._after_cr and chunk.startswith(b"\n"):
            chunk = chunk[1:]
        self._after_cr = chunk.endswith(b"\r") if chunk else self._after_cr
        parts = self._ends.split(self._rest + chunk)
        self._rest = parts.pop()
        self._ends_seen = self._ends_seen or bool(parts)
        lines = [_bounded(part) for part in parts if part.strip(b"\x00 \t")]
        if len(self._rest) > MAX_LINE_BYTES:
            lines.append(_bounded(self._rest))
            self._rest = b""
        return lines

    def quiet(self) -> list[Line]:
        """The caller has heard nothing for a while. For a gauge without line ends that ends the message;
        for one that has shown line ends, the rest of the line is still to come."""
        if self._ends_seen:
            return []
        rest, self._rest = self._rest, b""
        return [_bounded(rest)] if rest.strip(b"\x00 \t") else []

    def close(self) -> list[Line]:
        """Nothing more will come: a line that never got its end is kept as damaged."""
        lines = self.quiet()
        rest, self._rest = self._rest, b""
        return lines + ([Line(clean(rest[:MAX_LINE_BYTES]).text, damaged=True)] if rest.strip(b"\x00 \t") else [])


def _bounded(raw: bytes) -> Line:
    line = clean(raw[:MAX_LINE_BYTES])
    return line if len(raw) <= MAX_LINE_BYTES else Line(line.text, damaged=True)
