"""Text -> Grid: the delimiter, comment lines, quotes and aligned columns."""

from __future__ import annotations

import csv
import re

from leakdown.quantities import pressure_unit, time_unit_s
from leakdown.readers.grid import Cell, Grid, Row, is_value
from leakdown.readers.parts import whole_fractions

_CANDIDATES = ("\t", ";", "|", ",", "  ", " ")  # two blanks: aligned columns; one: any white space
_SEP_LINE = re.compile(r'"?sep=(.)"?[,;\s]*', re.IGNORECASE)
_COMMENT = re.compile(r'\s*"?(#(?!\d+\s*[,;\t|])|//|\*|%|!|REM\b)')
_DATE = re.compile(r"\d{1,4}([-/.])\d{1,2}\1\d{1,4}")
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?")
_TIMES = ("x", "\u00d7", "*")  # of a unit with a factor, "kPa x 10"
_SAMPLE = 300


def grid_of(text: str, source: str) -> Grid:
    """Rows and comments of `text`. Never fails: an unreadable text simply holds no values."""
    lines = _unwrapped(text.split("\n"))
    forced = _SEP_LINE.fullmatch(lines[0].strip()) if lines else None
    if not forced and lines and re.fullmatch(r'"?sep="?\s*', lines[0]) and "\t" in lines[0]:
        forced = _SEP_LINE.fullmatch("sep=\t")
    delimiter = forced.group(1) if forced else _delimiter(lines)
    comments: list[tuple[int, str]] = []
    rows: list[Row] = []
    for number, line in _logical(lines, delimiter, 1 if forced else 0):
        if not line.strip():
            continue
        if _is_comment(line, delimiter):
            comments.append((number, line.strip().strip('"').lstrip("#/;*%! \t").rstrip(delimiter + " \t")))
            continue
        cells = split_line(line, delimiter)
        if any(cell != "" for cell in cells):
            rows.append(Row(number, cells))
    return Grid(whole_fractions(rows) if delimiter == " " else rows, comments, source, delimiter)


def _unwrapped(lines: list[str]) -> list[str]:
    """Lines that a double export put whole into quotes, without those quotes."""
    filled = [line.strip() for line in lines if line.strip()]
    if filled and all(re.fullmatch(r'"[^"]*[,;\t][^"]*"', line) for line in filled[:_SAMPLE]):
        return [line.strip().strip('"') for line in lines]
    return lines


def _is_comment(line: str, delimiter: str) -> bool:
    if delimiter != ";" and line.lstrip().startswith(";"):
        return True
    match = _COMMENT.match(line)
    if not match:
        return False
    rest = line[match.end() :].lstrip()
    # A lone sign in the first cell is a heading or a tick, not a comment.
    return not (delimiter.strip() and rest.startswith(delimiter)) and not (
        delimiter == "\t" and line[match.end() :].startswith("\t")
    )


def _delimiter(lines: list[str]) -> str:
    sample = [line for line in lines if line.strip() and not _COMMENT.match(line)][:_SAMPLE]
    scores = {c: sum(_is_data(split_line(line, c), c) for line in sample) for c in _CANDIDATES}
    best = max(scores.values())
    if best:
        likely = next(c for c in _CANDIDATES if scores[c] >= 0.7 * best)
        blanks = next((c for c in ("  ", " ") if scores[c] >= scores[","]), None)
        return blanks if likely == "," and blanks and _only_decimal_commas(sample) else likely
    counts = {c: sum(len(split_line(line, c)) > 1 for line in sample) for c in _CANDIDATES}
    best = max(counts.values())
    return next(c for c in _CANDIDATES if counts[c] >= 0.7 * best) if best else ","


def _only_decimal_commas(sample: list[str]) -> bool:
    """Whether every comma stands between two digits and no fraction does: decimal commas, blanks between."""
    data = [line for line in sample if _is_data(split_line(line, " "), " ")]
    return not any(re.search(r"\d/\d|(?<!\d),|,(?!\d)", line) for line in data)


def _is_data(cells: list[Cell], delimiter: str) -> bool:
    spaced = delimiter in "\t;|"
    return sum(is_value(cell, spaced) for cell in cells) >= 2


def _logical(lines: list[str], delimiter: str, skip: int) -> list[tuple[int, str]]:
    """(line number, text) with quoted line breaks (headings of a spreadsheet) joined."""
    joined: list[tuple[int, str]] = []
    opening = re.compile(rf'(?:^|{re.escape(delimiter)})\s*"')
    index = skip
    while index < len(lines):
        line, taken = lines[index], 1
        if '"' in line and line.count('"') % 2 and opening.search(line):
            for extra in range(1, 4):
                whole = " ".join(lines[index : index + extra + 1])
                if whole.count('"') % 2 == 0 and index + extra < len(lines):
                    line, taken = whole, extra + 1
                    break
        joined.append((index + 1, line))
        index += taken
    return joined


def split_line(line: str, delimiter: str) -> list[Cell]:
    """Stripped cells of one line."""
    if delimiter == "  ":
        return [cell.strip().strip('"') for cell in re.split(r"\s{2,}|\t", line.strip())]
    if delimiter == " ":
        return _blank_separated(line)
    if delimiter == "|":
        line = line.strip().removeprefix("|").removesuffix("|")
    if '"' in line and line.count('"') % 2 == 0:
        try:
            return [
                cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
            ]
        except (csv.Error, StopIteration):
            pass
    return [cell.strip() for cell in line.split(delimiter)]


def _blank_separated(line: str) -> list[Cell]:
    """Cells between blanks, with units, am/pm, brackets and dates put back to what they belong to."""
    cells: list[str] = []
    glue = False
    for token in line.split():
        if cells and (glue or _belongs(cells[-1], token)):
            cells[-1] = f"{cells[-1]} {token}"
        else:
            cells.append(token)
        glue = token == "/" or _is_open(cells[-1]) or token in _TIMES
    return [cell.strip('"') for cell in cells]


def _is_open(text: str) -> bool:
    """Whether a bracket of a heading is still open: "[hPa"."""
    return any(text.count(one) > text.count(other) for one, other in ("()", "[]"))


def _belongs(before: str, token: str) -> bool:
    if token in _TIMES and pressure_unit(before) is not None:
        return True
    if token[0] in "([/" or token.lower().replace(".", "") in ("am", "pm", "abs", "gauge"):
        return True
    if _DATE.fullmatch(before) and _CLOCK.fullmatch(token):
        return True
    unit = pressure_unit(token) is not None or time_unit_s(token) is not None
    return unit and before[-1].isnumeric()
