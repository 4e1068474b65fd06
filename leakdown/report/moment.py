"""When a test was started, as a page says it."""

from __future__ import annotations

import re


def moment(started: str) -> str:
    """An ISO moment to the minute; any other text as it is."""
    return f"{started[:10]} {started[11:16]}" if re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d", started) else started
