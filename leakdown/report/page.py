"""Templates -> one self-contained HTML file. What goes into one is data, and is escaped by its type."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from leakdown import __version__
from leakdown.errors import OutputError
from leakdown.report.chart_data import Chart
from leakdown.report.figures import CONFIG, figure_json, height_px
from leakdown.report.interval_chart import IntervalChart
from leakdown.report.picture import inline_svg
from leakdown.report.theme import QUIET, custom_properties
from leakdown.settings import read_settings
from leakdown.words.cautions import AUTHORITY
from leakdown.words.signs import signs
from leakdown.words.wrap import capital, clean, unparted

_NEAR = "'self' file: "  # what lies beside the page, on a server or a disk
TITLE = "Crankcase and fuel-system pressure/vacuum test"
_OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*(?: [a-z]+(?:-[a-z]+)+)?")  # with an id of several words behind it


@dataclass(frozen=True)
class Drawn:
    """A chart with its place in a page, all that there is to say about it.

    name: its id there. title: its heading. alternative: what it shows, for whoever cannot see it. lines: a
    list under the caption, numbered like the marks on the chart where `numbered`. low: a flat plot.
    """

    name: str
    title: str
    chart: Chart | IntervalChart
    alternative: str
    caption: str
    lines: tuple[str, ...] = ()
    numbered: bool = False
    low: bool = False

    @property
    def still(self) -> Markup:
        """The picture for paper, and for wherever scripts do not run."""
        return Markup(inline_svg(self.chart, self.name))

    @property
    def height_px(self) -> int | None:
        """The height that its rows need; None for a plot that takes what the page gives it."""
        return height_px(self.chart) if isinstance(self.chart, IntervalChart) else None


def page(
    template: str,
    own: tuple[str, ...],
    drawings: Sequence[Drawn] = (),
    beside: str = "",
    foot: Sequence[str] = (),
    **parts: Any,
) -> str:
    """The whole file, signed by shop and mechanic as set. own: texts of the user's, left as they are.

    beside: name of the file beside the page that has the plotting library (`library_script`); without one the page
    carries it. Where it is missing the still pictures stay. foot: what every sheet of paper says at its foot (default:
    the details of the head), beside its number, shop and mechanic.
    """
    by = signed_by()
    running = running_foot(foot or parts.get("details", ()), own)
    own = (*own, by) if by else own
    charts = ", ".join(
        f'{{"id": {json.dumps(d.name)}, "config": {json.dumps(CONFIG)}, "figure": {figure_json(d.chart)}}}'
        for d in drawings
    )
    library, hashes = "", ""
    if drawings:
        hashes = f"'sha256-{_digest(asset('page.js').encode())}' 'sha256-{_library_digest()}'"
        hashes = f"script-src {_NEAR if beside else ''}{hashes}; "
        library = "" if beside else _packed_library()
    scripts = {"charts": Markup(f"[{charts}]"), "library": Markup(library), "hashes": Markup(hashes), "beside": beside}
    return str(render(template, own, drawings=drawings, by=by, running=Markup(running), **scripts, **parts))


def render(template: str, own: tuple[str, ...], **parts: Any) -> Markup:
    """A template's text."""
    return Markup(_templates().get_template(template).render(own=own, **parts))


def as_markup(html: str) -> Markup:
    """Text that the program made itself, as it stands: a drawing."""
    return Markup(html)


def asset(name: str) -> str:
    """A style or script of the pages, as text."""
    # read_text turns line ends into \n, as a browser does before it hashes a script
    return resources.files("leakdown.report").joinpath("assets", name).read_text("utf-8")


@lru_cache(maxsize=1)
def _templates() -> Environment:
    environment = Environment(
        loader=PackageLoader("leakdown.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    environment.filters |= {"unparted": _whole, "capital": capital}
    environment.globals |= {
        "asset": lambda name: Markup(asset(name)),
        "version": __version__,
        "title": TITLE,
        "authority": AUTHORITY,
        "colours": Markup(custom_properties()),
        "quiet": QUIET,
    }
    return environment


@pass_context
def _whole(context: Context, value: Any) -> Markup:
    """Plain text as a page shows it, no number parted from its unit and no option after its hyphens."""
    if isinstance(value, Markup):
        return value
    return Markup(_OPTION.sub(r'<span class="option">\g<0></span>', str(escape(_shown(context, unparted(value))))))


@pass_context
def _shown(context: Context, value: Any) -> Any:
    """Plain text as a page shows it: no control characters, real signs. What is HTML already stays."""
    if isinstance(value, Markup) or not isinstance(value, str):
        return value
    return signs(clean(value), context.get("own", ()))


def signed_by() -> str:
    """Shop and mechanic as set, "" where nobody is."""
    shop = read_settings()
    return ", ".join(name for name in (shop.shop, shop.mechanic) if name)


FOOT_MARKS = ("/* foot */", "/* end of foot */")


def running_foot(told: Sequence[str], own: tuple[str, ...]) -> str:
    """The style of what each sheet of paper says at its foot, between its marks."""
    by = signed_by()
    text = " \u00b7 ".join(dict.fromkeys(part for part in (*told, by, f"leakdown {__version__}") if part))
    words = _css_string(signs(clean(text), (*own, by) if by else own))
    return f"{FOOT_MARKS[0]} @bottom-left {{ content: {words}; font-size: 9pt; color: {QUIET}; }} {FOOT_MARKS[1]}"


def _css_string(text: str) -> str:
    """The text as a string of CSS: whatever is no letter, digit or blank is written by its number."""
    return f'"{"".join(c if c.isalnum() or c == " " else f"{chr(92)}{ord(c):x} " for c in text)}"'


_PACKED = 'window.packedLibrary = "', '";\n'


def library_script() -> bytes:
    """The content of the file beside several pages: the plotting library as they unpack it."""
    return f"{_PACKED[0]}{_packed_library()}{_PACKED[1]}".encode("ascii")


def is_library_script(content: bytes) -> bool:
    """Whether it is that content: it is unpacked, which takes a quarter of the time of packing it."""
    head, tail = (part.encode("ascii") for part in _PACKED)
    if not (content.startswith(head) and content.endswith(tail)):
        return False
    try:
        unpacked = gzip.decompress(base64.b64decode(content[len(head) : -len(tail)], validate=True))
    except (ValueError, OSError, EOFError, zlib.error):
        return False
    return unpacked == _library()


@lru_cache(maxsize=1)
def _packed_library() -> str:
    """A moderate level: the best takes twice as long and saves a hundredth."""
    return base64.b64encode(gzip.compress(_library(), 6, mtime=0)).decode("ascii")


@lru_cache(maxsize=1)
def _library_digest() -> str:
    return _digest(_library())


@lru_cache(maxsize=1)
def _library() -> bytes:
    """The text of the plotting library. Raises OutputError without it."""
    spec = find_spec("plotly")  # not imported: the page needs its file only
    places = (spec.submodule_search_locations if spec else None) or []
    found = [path for place in places if (path := Path(place, "package_data", "plotly.min.js")).is_file()]
    if not found:
        raise OutputError("the plotting library of the pages is missing", remedy="Install plotly again.")
    return found[0].read_bytes()


def _digest(content: bytes) -> str:
    return base64.b64encode(hashlib.sha256(content).digest()).decode("ascii")
