"""Job <-> the JSON of job.json: readable without this program, units in the keys; job_json.md has every key.

Nothing in a record is ever changed, so what was read is written back as it stood, keys of later versions and
of others with it, and only new entries are put behind.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import msgspec

from leakdown.disk import digest
from leakdown.errors import RecordError, UsageError
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.record import NOTE_KINDS, Engine, Entry, Job, Note, Photo, SuspectList, Test

FORM = 4  # 1 to 3 were never released
FORM_KEY = "leakdown_job"
_DAMAGED = "Nothing was changed. Restore this file from a copy; the recordings beside it are untouched."
_KINDS: dict[str, type[Entry]] = {Test.kind: Test, SuspectList.kind: SuspectList, Photo.kind: Photo}
_KINDS[EngineRun.kind] = EngineRun
_KINDS |= dict.fromkeys(NOTE_KINDS, Note)
_NOT_SAID = (None, False, "", ())
SEAL_KEY, BROKEN, _OPEN = "sealed", "changed by another program", "0" * 64
_SEALED = re.compile(rb'\{\n "sealed": "([0-9a-f]{64})",\n')
_T = TypeVar("_T")


def dumped(job: Job) -> bytes:
    """The file's content; bytes of a command line that were no text become question marks."""
    head = {FORM_KEY: FORM, "reference": job.reference, "opened": job.opened, "engine": _object(job.engine)}
    stored = list(job.document.get("entries", ()))
    new = [_entry_object(e) for e in job.entries[len(stored) :]]
    value = (dict(job.document) or head) | {"entries": [*stored, *new]}
    mark = BROKEN if value.pop(SEAL_KEY, None) == BROKEN else _OPEN
    text = json.dumps({SEAL_KEY: mark} | value, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    data = text.encode("utf-8", "replace")
    return data if mark == BROKEN else data.replace(_OPEN.encode(), digest(data).encode(), 1)


def seal_broken(data: bytes, whole: Mapping[str, Any]) -> bool:
    """Whether a record is not as leakdown wrote it: its seal is the SHA-256 of the file with zeros in its place.

    A record of an older leakdown has none, nor any other key with a text as long: nothing can be said of it.
    """
    found = _SEALED.match(data)
    if found is None:
        strange = [v for key, v in whole.items() if isinstance(v, str) and key not in ("reference", "opened")]
        return SEAL_KEY in whole or any(len(v) == len(_OPEN) for v in strange)
    return digest(data.replace(found[1], _OPEN.encode(), 1)).encode() != found[1]


def _entry_object(entry: Entry) -> dict[str, Any]:
    return {"number": entry.number, "at": entry.at, "kind": entry.kind, **_object(entry)}


def _object(value: Any) -> Any:
    """A dataclass as an object, a tuple as a list; what was not said is left out."""
    if isinstance(value, tuple):
        return [_object(item) for item in value]
    if not is_dataclass(value):
        return value
    pairs = [(f, getattr(value, f.name)) for f in fields(value)]
    return {f.name: _object(v) for f, v in pairs if f.default not in _NOT_SAID or v != f.default}


def loaded(data: bytes, where: str) -> Job:
    """The Job in a file's content. Raises RecordError, which says where and what to do."""
    whole = _document(data, where)
    if seal_broken(data, whole):
        whole[SEAL_KEY] = BROKEN  # and stays so, whatever is added later
    entries = whole.get("entries")
    if not isinstance(entries, list):
        raise _damaged("entries is not a list", where)
    found = tuple(_entry(e, f"entries {k}", where) for k, e in enumerate(entries, start=1))
    if len({e.number for e in found}) != len(found):
        raise _damaged("entries has two of one number", where)
    return Job(
        reference=_read(whole.get("reference"), str, "reference", where),
        opened=_read(whole.get("opened", ""), str, "opened", where),
        engine=_read(whole.get("engine"), Engine, "engine", where),
        entries=found,
        document=whole,
    )


def _damaged(what: str, where: str) -> RecordError:
    return RecordError(f"the record is damaged ({what})", where=where, remedy=_DAMAGED)


def _document(data: bytes, where: str) -> dict[str, Any]:
    try:
        value = msgspec.json.decode(data)
    except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
        raise _damaged(str(error), where) from None
    if not isinstance(value, dict):
        raise _damaged("not a JSON object", where)
    form = value.get(FORM_KEY)
    if isinstance(form, bool) or not isinstance(form, int):
        raise _damaged(f"{FORM_KEY} does not say its form", where)
    if form != FORM:
        other = "Use the newer leakdown that wrote it." if form > FORM else "No released leakdown wrote it."
        raise RecordError(
            f"the record has form {form}; this leakdown knows form {FORM}",
            where=where,
            remedy=f"{other} Nothing was changed.",
        )
    return value


def _read(value: Any, kind: type[_T], at: str, where: str) -> _T:
    """`value` as one of the record's classes, every type checked. at: where it stands in the record."""
    try:
        return msgspec.convert(value, kind)
    except msgspec.ValidationError as error:
        what, _, path = str(error).partition(" - at `$")
        raise _damaged(f"{at}{path.rstrip('`')}: {what}", where) from None
    except UsageError as error:  # conditions check themselves
        raise _damaged(f"{at}: {error.what}", where) from None


def _entry(value: Any, at: str, where: str) -> Entry:
    name = value.get("kind") if isinstance(value, dict) else None
    kind = _KINDS.get(name) if isinstance(name, str) else None
    if kind is None:
        raise _damaged(f"{at}.kind: not one of {', '.join(_KINDS)}", where)
    entry: Entry = _read(value, kind, at, where)
    if entry.number < 0:
        raise _damaged(f"{at}.number: below zero", where)
    if isinstance(entry, Test | Photo):
        _check_file(entry.recording.file, at, where)
    return entry


def _check_file(file: str, at: str, where: str) -> None:
    if not file or file in (".", "..") or any(c in file for c in "/\\\0"):
        raise _damaged(f"{at}.recording.file: leads out of the folder", where)
