"""A complaint written out ("runs, dies within a minute, worse below half a tank") -> observations.

Only phrases listed in complaints.toml are understood. Part by part between commas and full stops; a part
with a "not" in it is left alone, because turning words round is guessing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from leakdown.triage.knowledge_files import Complaint, Knowledge

_PARTS = re.compile(r"[,;.!?\n]+|\s+but\s+|\s+and\s+|\s+then\s+")
_NOT = re.compile(r"\b(?:not|no|never|without|neither|nor)\b|n't\b")


@dataclass(frozen=True)
class Understood:
    """Ids that the text speaks of, and the parts that say nothing known."""

    seen: tuple[str, ...]
    left_over: tuple[str, ...]


def understood(text: str, known: Knowledge) -> Understood:
    """Observations found in a complaint's own words."""
    seen: list[str] = []
    left: list[str] = []
    for part in (p.strip() for p in _PARTS.split(" ".join(text.lower().split()))):
        if not part:
            continue
        found = [c.id for c in known.complaints.values() if _says(part, c)]
        seen += [i for i in found if i not in seen]
        if not found:
            left.append(part)
    return Understood(tuple(seen), tuple(left))


def _says(part: str, complaint: Complaint) -> bool:
    return any(w in part and not _NOT.search(part.replace(w, " ")) for w in complaint.words)
