"""Records of earlier forms -> the present one, a step a form. A newer form is refused, never guessed at."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from leakdown.errors import RecordError

FORM = 3
FORM_KEY = "leakdown_job"


def migrated(value: dict[str, Any], where: str) -> dict[str, Any]:
    """The record's object in the present form. Raises RecordError."""
    form = value.get(FORM_KEY)
    if isinstance(form, bool) or not isinstance(form, int) or form < 1:
        raise RecordError(
            f"the record is damaged ({FORM_KEY} does not say its form)",
            where=where,
            remedy="Nothing was changed. Restore this file from a copy.",
        )
    if form > FORM:
        raise RecordError(
            f"the record has form {form}; this leakdown knows forms up to {FORM}",
            where=where,
            remedy="Use the newer leakdown that wrote it. Nothing was changed.",
        )
    for step in range(form, FORM):
        value = _STEPS[step](value)
    return value


def _from_1(value: dict[str, Any]) -> dict[str, Any]:
    """Form 1: parts changed as one text; tests, repairs and notes in lists of their own, one numbering."""
    head = dict(value.get("engine") or {}) if isinstance(value.get("engine"), dict) else {}
    parts = head.get("parts_changed", "")
    if isinstance(parts, str):
        head["parts_changed"] = [part.strip() for part in parts.split(";") if part.strip()]
    entries = []
    for key, kind in (("tests", "test"), ("repairs", "repair"), ("notes", "note")):
        listed = value.get(key)
        listed = listed if isinstance(listed, list) else []
        entries += [e | {"kind": kind} for e in listed if isinstance(e, dict)]
    entries.sort(key=lambda e: e["number"] if isinstance(e.get("number"), int) else 0)
    rest = {k: v for k, v in value.items() if k not in ("tests", "repairs", "notes")}
    return rest | {FORM_KEY: 2, "engine": head, "entries": entries}


def _from_2(value: dict[str, Any]) -> dict[str, Any]:
    """Form 2 had no entries of suspects; all the rest is as it was."""
    return value | {FORM_KEY: 3}


_STEPS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _from_1, 2: _from_2}
