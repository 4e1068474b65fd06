"""A blank sheet as CSV: filled in with any editor, `leakdown analyse` reads it as it is."""

from __future__ import annotations

import csv
import io

from leakdown.sheets.blank import BlankSheet
from leakdown.sheets.wording import blanks_to_fill, caution_words, heading, target_words


def csv_text(sheet: BlankSheet) -> str:
    """Comment lines, conditions to fill in, then a row for each time."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    stream.write(f"# {heading(sheet)}. {_plain(target_words(sheet))}\n# {_plain(caution_words(sheet))}\n")
    writer.writerow(("Circuit", sheet.circuit, ""))
    writer.writerow(("Direction", sheet.direction, ""))
    for key, unit in blanks_to_fill(sheet):
        writer.writerow((f"{key} ({unit})" if unit else key, "", ""))
    writer.writerow(("time (s)", sheet.pressure_heading, "remarks"))
    for time_s in sheet.times_s:
        writer.writerow((f"{time_s:g}", "", ""))
    return stream.getvalue()


def _plain(text: str) -> str:
    """Without what a reader of such lines could take for a key and its value."""
    return text.replace(":", "").replace("=", "").replace(";", ",").replace(",", " -")
