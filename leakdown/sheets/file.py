"""Bytes of a file -> text, whatever editor, logger or power cut wrote them."""

from __future__ import annotations

import codecs
import re
from dataclasses import replace
from pathlib import Path

from leakdown.disk import NotPlainError, TooLargeError, plain_bytes
from leakdown.errors import InputError
from leakdown.recording import Recording
from leakdown.sheets.assemble import recording_of
from leakdown.sheets.grid import Grid, grid_of, told
from leakdown.sheets.large import MANY_BYTES, large_recording
from leakdown.sheets.native_form import is_native, read_text
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.sentence import plain_lines, sentence_grid, sheet_lines
from leakdown.sheets.several_tests import one_test, picked
from leakdown.sheets.table import NoTable
from leakdown.sheets.transposed import turned
from leakdown.sheets.workbook import grids_of
from leakdown.tuned import tuned

_T = tuned("sheets")

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
    what = next((what for magic, what in _MAGIC.items() if data.startswith(magic)), None)
    text = "" if what else _text(data)
    sample = text[:20_000]
    if len(_CONTROLS.findall(sample)) > _T.most_controls * len(sample):
        what = "a binary file"
    if what:
        raise InputError(**told("no table", what=what), where=source)
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


LARGEST_BYTES = 400_000_000
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")


def read(path: str | Path, options: ReadingOptions | None = None) -> Recording:
    """The Recording in a file of any known form.

    Times in s on the file's own zero (clock times count from the first reading), pressures in Pa gauge,
    signed.
    Raises InputError, with file and line, for whatever cannot be read with certainty.
    """
    try:
        return read_bytes(_bytes(Path(path)), str(path), options)
    except FileNotFoundError:
        raise InputError(**told("no file"), where=str(path)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(**told("not opened", reason=reason), where=str(path)) from None


def _bytes(file: Path) -> bytes:
    try:
        return plain_bytes(file, LARGEST_BYTES)
    except IsADirectoryError:
        name = "folder"
    except NotPlainError:
        name = "device"
    except TooLargeError:
        name = "large file"
    raise InputError(**told(name, megabytes=LARGEST_BYTES // 1_000_000), where=str(file))


def read_bytes(data: bytes, source: str, options: ReadingOptions | None = None) -> Recording:
    """The Recording in the bytes of a file; `source` names it in messages. Raises InputError."""
    options = options or ReadingOptions()
    if not data.strip(b"\x00\r\n\t \xef\xbb\xbf\xff\xfe\x1a"):
        raise InputError(**told("empty"), where=source)
    if data.startswith(_WORKBOOKS):
        return _workbook(data, source, options)
    text = decode(data, source)
    if is_native(text) and not options.columns:
        return read_text(text, source, options)
    large = large_recording(text, source, options) if len(text) > MANY_BYTES else None
    if large is not None:
        return large
    return _sheet(grid_of(text, source), plain_lines(text), options)


def _sheet(grid: Grid, lines: list[tuple[int, str]], options: ReadingOptions) -> Recording:
    """The Recording of one sheet: of its sentence, where that is all it holds, else of its table."""
    if options.columns:
        return one_test(grid, options)
    said = sentence_grid(grid, lines, options)
    if said is None:
        return one_test(turned(grid), options)
    recording = recording_of(said[0], options)
    return replace(recording, remarks=(said[1], *recording.remarks))


def _workbook(data: bytes, source: str, options: ReadingOptions) -> Recording:
    grids = grids_of(data, source)
    if options.sheet is not None:
        grids = [(name, grid) for name, grid in grids if name.lower() == options.sheet.lower()]
    if not grids:
        raise InputError(**told("no readings in workbook"), where=source)
    found: list[tuple[str, Grid, Recording]] = []
    bad: list[InputError] = []
    every = options if len(grids) == 1 else replace(options, test=None)
    for name, grid in grids:
        try:
            found.append((name, grid, _sheet(grid, sheet_lines(grid), every)))
        except InputError as error:
            bad.append(error)
    if not found:  # the refusal that matters is of a sheet that has a table, else of the first
        raise next((error for error in bad if not isinstance(error, NoTable)), bad[0])
    if len(found) == 1:
        grid = found[0][1]
        return found[0][2] if every is options else _sheet(grid, sheet_lines(grid), options)
    if options.direction is not None or options.test is not None:
        return picked([(f"sheet {name!r}", turned(grid)) for name, grid, _ in found], options)
    raise InputError(**told("several sheets", names=", ".join(repr(name) for name, *_ in found)), where=source)
