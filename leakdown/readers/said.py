"""What the lines around a table said, collected before it becomes the Conditions of a Recording."""

from __future__ import annotations

from dataclasses import dataclass, field

USED_EXTRA = frozenset({"displacement", "limit", "altitude", "pump", "range"})
"""Keys without a condition of their own that later steps look up by name."""


@dataclass
class Said:
    """What preamble lines said so far: values for Conditions, the rest as text, and remarks."""

    values: dict[str, object] = field(default_factory=dict)
    extra: list[tuple[str, str]] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    uncertainty: str | None = None
    unit: str | None = None
    absolute: bool = False

    def keep(self, key: str, value: str) -> None:
        """Keep a value as text under `key`, the first one said."""
        if key not in dict(self.extra):
            self.extra.append((key, value))
