"""Job <-> the JSON of job.json: readable without this program, units in the keys."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, fields
from typing import Any

from leakdown.errors import RecordError
from leakdown.jobs.fields import Fields, parsed
from leakdown.jobs.record import (
    NOTE_KINDS,
    STAGES,
    VERDICTS,
    Changed,
    Engine,
    Entry,
    Job,
    Kept,
    Note,
    Place,
    Ranked,
    StoredResult,
    Suspected,
    Test,
    TestInputs,
)
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Conditions

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


_KINDS = ("test", Suspected.kind, *NOTE_KINDS)
_UNITS = tuple(PRESSURE_PA)
_HEAD = (FORM_KEY, "reference", "opened", "engine", "entries")


def dumped(job: Job) -> bytes:
    """The file's content."""
    value = {
        FORM_KEY: FORM,
        "reference": job.reference,
        "opened": job.opened,
        "engine": _written(job.engine),
        "entries": [_entry_object(e) for e in job.entries],
    } | dict(job.extra)
    return (json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def loaded(data: bytes, where: str, brief: bool = False) -> Job:
    """The Job in a file's content; earlier forms are brought up. Raises RecordError.

    brief: read, and check, only what a row of a list needs; the rest of each test is left empty.
    """
    top = Fields(migrated(parsed(data, where), where), where)
    entries = tuple(_entry(f, brief) for f in top.each("entries"))
    numbers = [e.number for e in entries]
    if len(set(numbers)) != len(numbers):
        raise top.damaged("has two entries of one number", "entries")
    return Job(
        reference=top.text("reference", None),
        opened=top.text("opened"),
        engine=_engine(top.inner("engine")),
        entries=entries,
        extra={k: v for k, v in top.values.items() if k not in _HEAD},
    )


def _written(value: Any) -> dict[str, Any]:
    """A dataclass as an object, without what was not said."""
    return {k: v for k, v in asdict(value).items() if v is not None and v is not False and v not in ("", ())}


def _entry_object(entry: Entry) -> dict[str, Any]:
    if isinstance(entry, Note):
        return _written(entry)
    if isinstance(entry, Suspected):
        return _suspected_object(entry)
    said = _written(entry.said) | {"conditions": _written(entry.said.conditions)}
    said["conditions"].pop("extra", None)
    if entry.said.conditions.extra:
        said["conditions"]["extra"] = [list(pair) for pair in entry.said.conditions.extra]
    found = asdict(entry.found)
    found["flags"] = [{"code": code, "text": text} for code, text in entry.found.flags]
    value: dict[str, Any] = {
        "number": entry.number,
        "at": entry.at,
        "kind": "test",
        "stage": entry.stage,
        "recording": asdict(entry.kept),
        "said": said,
        "found": found,
    }
    value |= {"place": _place_object(entry.place)} if entry.place else {}
    value |= {"changed": asdict(entry.changed)} if entry.changed else {}
    return value | ({"corrects": entry.corrects} if entry.corrects is not None else {})


def _place_object(place: Place) -> dict[str, Any]:
    whole = asdict(place)
    return whole if place.heard else {k: v for k, v in whole.items() if k != "heard"}


def _suspected_object(entry: Suspected) -> dict[str, Any]:
    whole = asdict(entry)
    return {"number": whole.pop("number"), "at": whole.pop("at"), "kind": entry.kind, **whole}


_LISTS = ("parts_changed", "understood")


def _engine(f: Fields) -> Engine:
    texts = {x.name: f.text(x.name, x.default) for x in fields(Engine) if x.name not in _LISTS}  # type: ignore[arg-type]
    return Engine(**texts, **{name: f.texts(name) for name in _LISTS})  # type: ignore[arg-type]


def _entry(f: Fields, brief: bool = False) -> Entry:
    kind = f.choice("kind", _KINDS)
    if kind == "test":
        return _test_in_brief(f) if brief else _test(f)
    if kind == Suspected.kind:
        return _suspected(f)
    return Note(
        f.count("number"),
        f.text("at"),
        kind,
        f.text("text"),
        f.choice("verdict", ("", *VERDICTS)) if "verdict" in f.values else "",
        f.text("place"),
        f.text("corrects"),
        f.texts("seen"),
        f.texts("not_seen"),
    )


def _suspected(f: Fields) -> Suspected:
    lists: dict[str, Any] = {name: f.texts(name) for name in ("seen", "not_seen", "said")}
    texts: dict[str, Any] = {
        name: f.text(name) for name in ("text", "next_do", "next_why", "plain", "caveat", "program")
    }
    ranked = tuple(
        Ranked(
            s.text("place"),
            s.text("name"),
            s.number("probability") or 0.0,
            s.flag("leak"),
            s.texts("reasons"),
        )
        for s in f.each("suspects")
    )
    return Suspected(number=f.count("number"), at=f.text("at"), suspects=ranked, **lists, **texts)


def _test(f: Fields) -> Test:
    kept, place, changed = f.inner("recording"), f.maybe_inner("place"), f.maybe_inner("changed")
    file = kept.text("file", None)
    if not file or "/" in file or "\\" in file or file in (".", "..") or "\0" in file:
        raise kept.damaged("leads out of the folder", "file")
    return Test(
        f.count("number"),
        f.text("at"),
        f.choice("stage", STAGES),
        Kept(file, kept.text("name"), kept.text("sha256", None), kept.count("size")),
        _said(f.inner("said")),
        _found(f.inner("found")),
        _place(place) if place else None,
        _changed(changed) if changed else None,
        f.maybe_count("corrects"),
    )


_NOTHING_KEPT = Kept("", "", "", 0)


def _test_in_brief(f: Fields) -> Test:
    said, found, place = f.inner("said"), f.inner("found"), f.maybe_inner("place")
    c = said.inner("conditions")
    conditions = Conditions(circuit=c.maybe_text("circuit"), direction=_direction(c))
    return Test(
        f.count("number"),
        f.text("at"),
        f.choice("stage", STAGES),
        _NOTHING_KEPT,
        TestInputs(
            conditions,
            connection_proven=said.flag("connection_proven"),
            blanks_checked=said.flag("blanks_checked"),
        ),
        StoredResult(
            found.choice("verdict", VERDICTS),
            "",
            "",
            "",
            found.maybe_flag("detected"),
            (),
            found.inner("figures").values,
            "",
        ),
        Place("", place.text("group"), "", "", place.text("place_name"), 0.0) if place else None,
        None,
        f.maybe_count("corrects"),
    )


def _said(f: Fields) -> TestInputs:
    hold = f.values.get("hold_s")
    if hold is not None and not (isinstance(hold, list) and len(hold) == 2):
        raise f.damaged("is not a start and an end", "hold_s")
    ends = Fields({"start": hold[0], "end": hold[1]}, f.where, ("hold_s",)) if hold else None
    span = (ends.number("start"), ends.number("end")) if ends else None
    return TestInputs(
        conditions=_conditions(f.inner("conditions")),
        unit=f.maybe_text("unit"),
        direction=_direction(f),
        absolute=f.flag("absolute"),
        barometer_pa=f.number("barometer_pa"),
        quote_pa=f.number("quote_pa") or 35_000.0,
        hold_s=span,  # type: ignore[arg-type]
        limit=f.text("limit"),
        limit_from=f.text("limit_from"),
        manual_page=f.text("manual_page"),
        connection_proven=f.flag("connection_proven"),
        blanks_checked=f.flag("blanks_checked"),
    )


def _direction(f: Fields) -> Any:
    return None if f.values.get("direction") is None else f.choice("direction", ("pressure", "vacuum"))


def _conditions(f: Fields) -> Conditions:
    return Conditions(
        circuit=f.maybe_text("circuit"),
        direction=_direction(f),
        gauge=f.maybe_text("gauge"),
        includes=f.texts("includes"),
        blocked=f.texts("blocked"),
        note=f.maybe_text("note"),
        started=f.maybe_text("started"),
        unit=f.choice("unit", _UNITS),
        extra=tuple(_pair(f, item) for item in f.values.get("extra") or ()),
        volume_m3=f.number("volume_m3"),
        volume_u_m3=f.number("volume_u_m3"),
        barometer_pa=f.number("barometer_pa"),
        temperature_k=f.number("temperature_k"),
        resolution_pa=f.number("resolution_pa"),
    )


def _pair(f: Fields, item: Any) -> tuple[str, str]:
    if not (isinstance(item, list) and len(item) == 2 and all(isinstance(x, str) for x in item)):
        raise f.damaged("is not a list of pairs of texts", "extra")
    return item[0], item[1]


def _found(f: Fields) -> StoredResult:
    return StoredResult(
        f.choice("verdict", VERDICTS),
        f.text("reason"),
        f.text("size"),
        f.text("brief"),
        f.maybe_flag("detected"),
        tuple((flag.text("code"), flag.text("text")) for flag in f.each("flags")),
        f.inner("figures").values,
        f.text("program"),
    )


def _place(f: Fields) -> Place:
    names = ("headline", "group", "group_name", "place", "place_name")
    texts: dict[str, Any] = {n: f.text(n) for n in (*names, "next_do", "next_why")}
    return Place(probability=f.number("probability") or 0.0, heard=f.texts("heard"), **texts)


def _changed(f: Fields) -> Changed:
    sizes = (f.number(n) for n in ("value", "low", "high"))
    return Changed(f.count("against"), f.text("word"), f.text("sentence"), *sizes)
