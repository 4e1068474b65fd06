"""A path -> Recording: which reader a file needs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from leakdown.errors import InputError
from leakdown.readers import own
from leakdown.readers.assemble import recording_of
from leakdown.readers.big import MANY_BYTES
from leakdown.readers.big_sheet import big_recording
from leakdown.readers.blocks import one_test, picked
from leakdown.readers.decode import decode
from leakdown.readers.excel import grids_of
from leakdown.readers.grid import Grid
from leakdown.readers.options import ReadingOptions
from leakdown.readers.sentence import plain_lines, sentence_grid, sheet_lines
from leakdown.readers.split import grid_of
from leakdown.readers.table import NoTable
from leakdown.readers.turned import turned
from leakdown.recording import Recording

LARGEST_BYTES = 400_000_000
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")


def read(path: str | Path, options: ReadingOptions | None = None) -> Recording:
    """The Recording in a file of any known form.

    Times in s on the file's own zero (clock times count from the first reading), pressures in Pa gauge,
    signed.
    Raises InputError, with file and line, for whatever cannot be read with certainty.
    """
    file = Path(path)
    try:
        if file.is_dir():
            raise InputError(
                "this is a folder, not a file", where=str(path), remedy="Name one recording or sheet."
            )
        if file.stat().st_size > LARGEST_BYTES:
            raise InputError(
                f"the file is larger than {LARGEST_BYTES // 1_000_000} MB",
                where=str(path),
                remedy="Cut out the part with the test.",
            )
        data = file.read_bytes()
    except FileNotFoundError:
        raise InputError("no such file", where=str(path), remedy="Check the name.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(
            f"cannot be opened: {reason}", where=str(path), remedy="Check the name and the rights."
        ) from None
    return read_bytes(data, str(path), options)


def read_bytes(data: bytes, source: str, options: ReadingOptions | None = None) -> Recording:
    """The Recording in the bytes of a file; `source` names it in messages. Raises InputError."""
    options = options or ReadingOptions()
    if not data.strip(b"\x00\r\n\t \xef\xbb\xbf\xff\xfe\x1a"):
        raise InputError(
            "the file is empty", where=source, remedy="Give a file with a time and a pressure column."
        )
    if data.startswith(_WORKBOOKS):
        return _workbook(data, source, options)
    text = decode(data, source)
    if own.is_own(text):
        return own.read_text(text, source, options)
    large = big_recording(text, source, options) if len(text) > MANY_BYTES else None
    if large is not None:
        return large
    return _sheet(grid_of(text, source), plain_lines(text), options)


def _sheet(grid: Grid, lines: list[tuple[int, str]], options: ReadingOptions) -> Recording:
    """The Recording of one sheet: of its sentence, where that is all it holds, else of its table."""
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
        raise InputError(
            "there are no readings in this workbook",
            where=source,
            remedy="Name a sheet with a time and a pressure column.",
        )
    found, refused = _each_sheet(grids, options)
    if len(found) > 1 and not refused and options.direction is not None:
        held = {name for name, _ in found}
        return picked([(f"sheet {name!r}", turned(grid)) for name, grid in grids if name in held], options)
    if len(found) > 1 and not refused:
        names = ", ".join(repr(name) for name, _ in found)
        raise InputError(
            f"several sheets hold readings: {names}",
            where=source,
            remedy="Give --direction where they differ in it, or save the one to read as a file of its own.",
        )
    if refused:
        raise refused
    return found[0][1]


def _each_sheet(
    grids: list[tuple[str, Grid]], options: ReadingOptions
) -> tuple[list[tuple[str, Recording]], InputError | None]:
    """Recordings by sheet, and the refusal that matters: of a sheet that has a table, else of the first."""
    found: list[tuple[str, Recording]] = []
    bad: InputError | None = None
    empty: InputError | None = None
    for name, grid in grids:
        try:
            found.append((name, _sheet(grid, sheet_lines(grid), options)))
        except NoTable as error:
            empty = empty or error
        except InputError as error:
            bad = bad or error
    return found, (bad if not found else None) or (empty if not found else None)
