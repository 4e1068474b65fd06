"""Small pieces of HTML. Every text that comes in is data and is escaped here, once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from leakdown.words.facts import Fact
from leakdown.words.wrap import clean

SYMBOLS = {
    "pass": '<path d="M5 17l8 8L27 8" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "fail": '<path d="M7 7l18 18M25 7L7 25" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "undecided": '<path d="M5 16h6M13 16h6M21 16h6" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "none": '<path d="M5 17l8 8L27 8" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "place": '<circle cx="16" cy="16" r="10.5" fill="none" stroke="#fff" stroke-width="4"/>'
    '<circle cx="16" cy="16" r="3.5" fill="#fff"/>',
    "smaller": '<path d="M16 5v20M7 17l9 9 9-9" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "larger": '<path d="M16 27V7M7 15l9-9 9 9" fill="none" stroke="#fff" stroke-width="4.5"/>',
    "same": '<path d="M5 11h22M5 21h22" fill="none" stroke="#fff" stroke-width="4.5"/>',
}
_SOURCES = ("given", "measured", "inferred", "assumed")


def text(value: str) -> str:
    """User's text as HTML text, without control characters."""
    return escape(clean(value), quote=True)


def symbol(role: str) -> str:
    """The shape beside a verdict's or an answer's word, which tells them apart without colour."""
    return f'<svg viewBox="0 0 32 32" aria-hidden="true">{SYMBOLS[role]}</svg>'


def capital(sentence: str) -> str:
    """The sentence with a capital first letter, the rest as it is."""
    return sentence[:1].upper() + sentence[1:]


def items(sentences: Iterable[str], kind: str = "ul", css: str = "") -> str:
    """A list; "" when there is nothing to list."""
    body = "".join(f"<li>{text(s)}</li>" for s in sentences)
    attribute = f' class="{css}"' if css else ""
    return f"<{kind}{attribute}>{body}</{kind}>" if body else ""


def number_cards(facts: Sequence[Fact]) -> str:
    """Facts as a row of large figures."""
    cells = []
    for fact in facts:
        span = fact.span if not fact.span or fact.span.startswith("at most") else f"95 % sure: {fact.span}"
        lines = [f'<span class="value">{text(fact.value)}</span>']
        lines += [f'<span class="span">{text(span)}</span>'] if span else []
        lines += [f'<span class="note">{text(fact.note)}</span>'] if fact.note else []
        cells.append(f"<div><dt>{text(fact.what)}</dt><dd>{''.join(lines)}</dd></div>")
    return f'<dl class="numbers">{"".join(cells)}</dl>' if cells else ""


def fact_list(facts: Sequence[Fact]) -> str:
    """Facts as named sentences."""
    rows = []
    for fact in facts:
        qualified = ", ".join(part for part in (fact.span, fact.note) if part)
        value = f"{fact.value} ({qualified})" if qualified else fact.value
        rows.append(f"<dt>{text(fact.what)}</dt><dd>{text(value)}</dd>")
    return f'<dl class="judged">{"".join(rows)}</dl>' if rows else ""


def fact_table(facts: Sequence[Fact], head: tuple[str, str, str]) -> str:
    """Facts as a table of three columns; the last says where a value came from or what it means."""
    rows = []
    for fact in facts:
        value = f"{fact.value}, {fact.span}" if fact.span else fact.value
        note = text(fact.note)
        if fact.note in _SOURCES:
            note = f'<span class="source {fact.note}">{note}</span>'
        rows.append(f'<tr><th scope="row">{text(fact.what)}</th><td>{text(value)}</td><td>{note}</td></tr>')
    heads = "".join(f'<th scope="col">{text(h)}</th>' for h in head)
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table>" if rows else ""


def plain_table(head: Sequence[str], rows: Iterable[Sequence[str]], caption: str = "", css: str = "") -> str:
    """Rows of text."""
    heads = "".join(f'<th scope="col">{text(h)}</th>' for h in head)
    body = "".join("<tr>" + "".join(f"<td>{text(c)}</td>" for c in row) + "</tr>" for row in rows)
    title = f"<caption>{text(caption)}</caption>" if caption else ""
    attribute = f' class="{css}"' if css else ""
    return f"<table{attribute}>{title}<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"
