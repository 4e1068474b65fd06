"""Lists across jobs -> lines for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from leakdown.jobs.row import Row
from leakdown.jobs.trend import Visit, change_words, kinds
from leakdown.words.sizes import VERDICT_WORDS, circuit_words
from leakdown.words.wrap import clean, wrapped

Style = Callable[[str, str], str]


def row_lines(rows: Sequence[Row], width: int, style: Style) -> list[str]:
    """Two lines a job at most: reference, day, verdict, engine; then complaint and place."""
    first = min(24, max((len(clean(r.reference)) for r in rows), default=0))
    lines = []
    for row in rows:
        word = VERDICT_WORDS.get(row.verdict, "not tested")
        said = f" (mechanic: {VERDICT_WORDS.get(row.said, row.said)})" if row.said else ""
        serial = f", {row.serial}" if row.serial else ""
        head = f"{clean(row.reference):<{first}}  {row.opened[:10]}  "
        tail = f"{word:<15}{clean(row.engine + serial)}{said}"
        line = _cut(head + tail, width)
        lines.append(line.replace(word, style(word, row.verdict or "dim"), 1))
        about = "; ".join(
            clean(part) for part in (row.complaint, row.places and f"found: {row.places}") if part
        )
        if about:
            lines.append(style(_cut(" " * (first + 2) + about, width), "dim"))
    return lines


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 3]}..."


def trend_lines(visits: Sequence[Visit], width: int, style: Style) -> list[str]:
    """A block for each circuit and direction, a line for each visit, and what became of it."""
    lines: list[str] = []
    for (circuit, direction), group in kinds(visits).items():
        lines += [""] * bool(lines) + [style(f"{circuit_words(circuit).capitalize()}, {direction}", "strong")]
        for v in group:
            hours = f", {clean(v.hours)} h" if v.hours else ""
            stage = " after the repair" if v.stage == "after" else ""
            visit = f"{v.at[:10]}  {clean(v.reference)}{hours}{stage}"
            text = f"{visit}: {VERDICT_WORDS[v.verdict]}, {clean(v.size)}"
            lines += wrapped(text, width, "  ", " " * 14)
        if words := change_words(group):
            lines += wrapped(words, width, "  ", "  ")
    return lines
