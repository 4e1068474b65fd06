"""What a live test has to say, by name: the texts of texts.toml, their {places} filled in."""

from __future__ import annotations

from functools import partial

from leakdown import tuned

PORT_CAUSES: list[dict[str, str]] = tuned.texts("live", "texts")["port_cause"]
DIGITS: dict[str, list[str]] = tuned.texts("live", "texts")["digits"]
FAULTS_DO: dict[str, str] = tuned.texts("live", "texts")["fault"]
STATES: dict[str, dict[str, str]] = tuned.texts("live", "texts")["state"]
"""The words of each state of a live test: head, lead and why."""
text, told = partial(tuned.text, "live"), partial(tuned.told, "live")
