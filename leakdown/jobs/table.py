"""Rows of jobs -> a CSV file that a spreadsheet may open without running anything in it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from leakdown.jobs.row import COLUMNS, Row
from leakdown.words.wrap import clean

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def harmless(value: object) -> str:
    """A cell's text; one that a spreadsheet would take for a formula is marked as text with an apostrophe.

    Blanks before the sign are looked through, for some programs drop them.
    """
    text = str(value)
    guarded = text.startswith(_FORMULA) or text.lstrip().startswith(_FORMULA)
    plain = clean(text)
    return f"'{plain}" if guarded else plain


def csv_text(rows: Iterable[Row]) -> str:
    """Header and rows; every text quoted."""
    stream = io.StringIO()
    writer = csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([harmless(getattr(row, name)) for name in COLUMNS])
    return stream.getvalue()
