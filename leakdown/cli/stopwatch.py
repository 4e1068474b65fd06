"""A stopwatch on a terminal: one key when the engine starts, one when it ends; large digits in between."""

from __future__ import annotations

import shutil
import sys
import time

from rich.console import Console
from rich.live import Live
from rich.text import Text

from leakdown.cli.console import poor_terminal
from leakdown.cli.keys import Keys, keys_of_terminal
from leakdown.cli.live_screen import on_terminal
from leakdown.errors import UsageError
from leakdown.live.bench.drawing import big

_TURN_S = 0.1
_ENDS = {"d": "died", "s": "stopped", "b": "bogged", "n": "would-not-start"}
_WAIT = "Ready. Any key the moment it starts (n: it will not start; q: leave)."
_RUNNING = "d: it died   s: stopped by hand   b: bogged down"
_GIVEN = "Any key when it ends ({ended})."


def timed(ended: str) -> tuple[float, str]:
    """Seconds that a run lasted, and how it ended: as given, else by the key. Raises UsageError off a terminal."""
    with keys_of_terminal(True) as keys:
        if not keys.active or not on_terminal():
            raise UsageError("--clock needs a terminal", remedy='Give the duration instead: "41 s".')
        console = Console(file=sys.stderr, highlight=False, markup=False)
        with Live(console=console, screen=True, auto_refresh=False) as live:
            first = _next(keys, live, 0.0, _WAIT)
            if first == "q":
                raise UsageError("left before the start", remedy="Nothing was added.")
            if first == "n":
                return 0.0, "would-not-start"
            start, words = time.monotonic(), _GIVEN.format(ended=ended) if ended else _RUNNING
            while True:
                key = _next(keys, live, start, words)
                if ended or _ENDS.get(key, "n") != "would-not-start" and key in _ENDS:
                    return round(time.monotonic() - start, 1), ended or _ENDS[key]


def _next(keys: Keys, live: Live, start: float, words: str) -> str:
    """The next key; the digits go on until then. start 0.0: they stand at zero."""
    while keys.active:
        ran = int(time.monotonic() - start) if start else 0
        size = shutil.get_terminal_size()
        rows = big(f"{ran // 60} {ran % 60:02d}", size.columns - 2, size.lines - 4, not poor_terminal(sys.stderr))
        live.update(Text("\n".join([words, "Minutes and seconds:", "", *rows])), refresh=True)
        if pressed := keys.pressed():
            return pressed[-1].lower()
        time.sleep(_TURN_S)
    raise UsageError("the keyboard is gone", remedy="Nothing was added: give the duration instead.")
