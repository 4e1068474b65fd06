"""A view of a live test -> what rich draws: one frame for any size of terminal, in any signs and colours."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.style import Style

from leakdown.live.bench.drawing import big, plot
from leakdown.live.bench.keyboard import legend, short_legend
from leakdown.live.bench.running import other_lines
from leakdown.live.bench.view import PHASES, View
from leakdown.words.signs import signs

Line = list[Segment]
# The terminal's own colours alone, so that they are seen on light and on dark; what matters is said in words too.
_STYLES = {
    "": Style(),
    "strong": Style(bold=True),
    "dim": Style(dim=True),
    "alarm": Style(bold=True, color="red"),
    "alarm head": Style(bold=True, color="red", reverse=True),
    "pass": Style(bold=True, color="green"),
    "fail": Style(bold=True, color="red"),
    "undecided": Style(bold=True, color="yellow"),
    "axis": Style(dim=True),
    "limit": Style(color="red"),
    "band": Style(dim=True),
    "reading": Style(bold=True),
    "mark": Style(bold=True, color="magenta"),
}


@dataclass(frozen=True)
class Frame:
    """One view to draw. unicode: the terminal shows more than ASCII. keys: somebody is at the keyboard."""

    view: View
    unicode: bool = True
    keys: bool = True

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Every line of the terminal, so that nothing of the frame before stays."""
        width, height = options.max_width, options.height or console.size.height
        lines = frame_lines(self, width, height)
        for number, line in enumerate(lines):
            yield from line
            if number + 1 < len(lines):
                yield Segment.line()


def frame_lines(frame: Frame, width: int, height: int) -> list[Line]:
    """The frame in exactly `height` lines of at most `width` cells: digits, what to do, verdict, curve, keys."""
    foot = _foot(frame, width, height)
    room = height - len(foot)
    told = _told(frame, width, room)
    rest = max(room - len(told), 0)
    wants_curve = rest >= 11 and width >= 36
    digits = _digits(frame, width, rest // 2 if wants_curve else rest)
    curve = _curve(frame, width, rest - len(digits) - 1) if wants_curve else []
    body = [*digits, *told, *([[]] if curve else []), *curve][:room]
    body += [[]] * (room - len(body))
    return [*body, *foot][:height]


def _line(text: str, role: str, width: int) -> Line:
    return [Segment(text[:width], _STYLES[role])]


def _digits(frame: Frame, width: int, height: int) -> list[Line]:
    """The reading, and its unit beside it where there is room for it."""
    view = frame.view
    role = "alarm" if view.alarming and not view.dim else "dim" if view.dim else "strong"
    rows = big(view.digits, width - len(view.unit) - 2, height, frame.unicode)
    across = max((len(row) for row in rows), default=0)
    lines = [_line(row, role, width) for row in rows]
    if lines:
        last = f"{rows[-1]:<{across}} {view.unit}"
        lines[-1] = _line(last, role, width)
    return lines


def _told(frame: Frame, width: int, room: int) -> list[Line]:
    """The state, what to do, the verdict so far and the leak; the most important first where room is short."""
    view, said = frame.view, frame.view.said
    head = f" {said.headline} " if view.alarming else _where(view)
    alarm = "alarm head" if view.alarming else "strong"
    parts = [(head, alarm), (said.lead, "strong"), (said.why, "")]
    so_far = view.so_far
    verdict = f"{so_far.verdict}; {so_far.more}" if so_far.more else so_far.verdict
    lines = _lines(frame, [*parts, (verdict, so_far.word or ""), (view.leak, "")], width)
    most = max(room - 5, 2)
    notes = _lines(frame, [(note, "dim") for note in view.notes], width)
    return [*lines, *notes[-min(4, len(notes)) :]][:most] if room >= 16 else lines[:most]


def _lines(frame: Frame, parts: list[tuple[str, str]], width: int) -> list[Line]:
    """Texts, each in its role, over as many lines as they need; in the signs of print where the terminal has them."""
    shown = [(signs(text) if frame.unicode else text, role) for text, role in parts]
    return [_line(part, role, width) for text, role in shown for part in _folded(text, width)]


def _where(view: View) -> str:
    """The phases with the present one in brackets, its seconds, and what is lost."""
    names = " ".join(f"[{name}]" if name == view.phase else name for name in PHASES) if view.phase else ""
    named = names or view.said.headline
    seconds = f"{view.phase_s:.0f} s" if view.phase in PHASES else ""
    return "   ".join(part for part in (named, seconds, view.lost) if part)


def _curve(frame: Frame, width: int, height: int) -> list[Line]:
    return [_runs(row) for row in plot(frame.view.picture, width, height, frame.unicode)]


def _runs(row: list[tuple[str, str]]) -> Line:
    """Cells of one role together."""
    line: Line = []
    text, role = "", ""
    for char, its in row:
        if its != role and text:
            line.append(Segment(text, _STYLES[role]))
            text = ""
        text, role = text + char, its
    return [*line, Segment(text, _STYLES[role])] if text else line


def _foot(frame: Frame, width: int, height: int) -> list[Line]:
    """The keys, always; the counts where there is room."""
    view = frame.view
    counted = f"{view.readings} readings{other_lines(view.unreadable, '; ')}"
    if not frame.keys:
        return [_line(f"{counted}   Ctrl-C ends", "dim", width)]
    whole = legend(width, view.typing)
    shown = whole if view.typing is not None or len(whole) <= height // 8 else [short_legend(width)]
    keys = [_line(text, "" if view.typing is None else "strong", width) for text in shown]
    return [_line(counted, "dim", width), *keys] if height >= 16 else keys


def _folded(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width) if text else []
