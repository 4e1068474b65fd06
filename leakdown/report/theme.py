"""Colours, marker shapes and line styles, once for page and picture.

The hues keep apart for colour-blind readers (Okabe and Ito 2008 palette, darkened for contrast on white);
direction and earlier/later differ in marker and dash as well, so a grey print says the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from leakdown.report.chart_data import Tone

INK = "#1d2329"
QUIET = "#59636e"
READING = "#7a848e"  # one of many: lighter than the line of the fit over it, darker than the band, in grey too
READING_EARLIER = "#a3acb5"
GRID = "#e3e6e9"
SHADE = "#f1f3f5"
SHADE_STRONG = "#e4e9ee"
LIMIT = "#8c1c13"
VERDICTS = {"pass": "#00605a", "fail": "#9b1c1c", "undecided": "#5b4a00"}
PAGE_FONT = {"family": "system-ui, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif", "size": 14, "color": INK}


@dataclass(frozen=True)
class Look:
    """How one test is drawn."""

    colour: str
    marker: Literal["circle", "square", "circle-open", "square-open"]
    dash: Literal["solid", "dash"]
    band: str


LOOKS: dict[Tone, Look] = {
    "pressure": Look("#005f99", "circle", "solid", "#9cc6e0"),
    "vacuum": Look("#a84600", "square", "dash", "#f0c29c"),
    "pressure-earlier": Look("#5c6670", "circle-open", "dash", "#d2d7dc"),
    "vacuum-earlier": Look("#5c6670", "square-open", "dash", "#d2d7dc"),
    "neutral": Look(INK, "circle", "solid", "#aab4be"),
}


def custom_properties() -> str:
    """The same colours under the names that the stylesheets know."""
    named = {"ink": INK, "quiet": QUIET, **VERDICTS}
    return ":root { " + " ".join(f"--{name}: {colour};" for name, colour in named.items()) + " }"


def reading_grey(tone: Tone) -> str:
    """Of one reading of many."""
    return READING_EARLIER if tone.endswith("earlier") else READING
