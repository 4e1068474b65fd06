"""A test as a small picture, 240 px wide: its word, readable, and its curve."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from leakdown.report.theme import INK, LOOKS, READING, VERDICTS
from leakdown.words.wrap import clean

WIDE, _HEAD, _HIGH, _FOOT = 240, 22, 48, 17
_EDGE = 3
SHAPES = {"pass": "M1 8l5 5L15 2", "fail": "M2 2l12 12M14 2L2 14", "undecided": "M0 8h4M6 8h4M12 8h4"}


def thumbnail(
    time_s: Sequence[float], pressure: Sequence[float], direction: str, role: str, word: str, name: str
) -> str:
    """An <svg> element. role: "pass", "fail" or "undecided"; word: in capitals; name: which test.

    Its ground is white, and word, shape and curve are dark on it, whatever colours the page is forced to.
    """
    inward = direction == "vacuum"
    colour, look = VERDICTS[role], LOOKS["vacuum" if inward else "pressure"]
    base = _HEAD + (_EDGE if inward else _HIGH - _EDGE)
    dash = "" if look.dash == "solid" else ' stroke-dasharray="7 2"'
    said = escape(clean(f"{name}: {word}"))
    head = escape(clean(word))
    return (
        f'<svg class="thumbnail" viewBox="0 0 {WIDE} {_HEAD + _HIGH + _FOOT}" width="{WIDE}" '
        f'height="{_HEAD + _HIGH + _FOOT}" role="img" aria-label="{said}" font-family="system-ui, sans-serif">'
        f'<rect width="{WIDE}" height="{_HEAD + _HIGH + _FOOT}" fill="#fff"/>'
        f'<path d="{SHAPES[role]}" transform="translate(2 3)" fill="none" stroke="{colour}" stroke-width="3"/>'
        f'<text x="24" y="16" font-size="15" font-weight="700" fill="{colour}">{head}</text>'
        f'<path d="M0 {base}H{WIDE}" stroke="{READING}" fill="none"/>'
        f'<polyline points="{_points(time_s, pressure)}" fill="none" stroke="{look.colour}" stroke-width="2"{dash}/>'
        f'<text x="1" y="{_HEAD + _HIGH + 13}" font-size="12" fill="{INK}">'
        f"{escape(clean(name))}</text></svg>"
    )


def _points(time_s: Sequence[float], pressure: Sequence[float]) -> str:
    """The curve's corners: time to the right, pressure upward from open air, vacuum downward."""
    most = max((abs(p) for p in pressure), default=0.0) or 1.0
    first = time_s[0] if time_s else 0.0
    across = (time_s[-1] - first if time_s else 0.0) or 1.0
    high = _HIGH - 2 * _EDGE
    down = sum(pressure) < 0.0
    pairs = []
    for t, p in zip(time_s, pressure, strict=True):
        away = high * abs(p) / most
        y = _HEAD + (_EDGE + away if down else _HIGH - _EDGE - away)
        pairs.append(f"{WIDE * (t - first) / across:.1f},{y:.1f}")
    return " ".join(pairs)
