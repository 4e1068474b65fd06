"""job.json: written and read back whole, unknown keys kept; other forms and damage refused by name."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdown.errors import RecordError
from leakdown.jobs import form, record
from leakdown.jobs.adding import add_note, note_of
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.form import FORM, FORM_KEY, dumped, loaded
from leakdown.jobs.listing import row_of
from leakdown.jobs.page import job_page
from leakdown.jobs.record import Engine, Job
from leakdown.jobs.store import create, writing
from leakdown.jobs.terminal import job_lines, job_object
from tests.jobs.records import NASTY, full_job, job, note

KEYS = Path(form.__file__).with_name("job_json.md")
UNKNOWN = {"shop": {"bay": 3, "rate": 1.5e-7, "big": 2**70}, "list": [1, None, "\u00fc"], "flag": False}


def away(kind: Any, name: str) -> Any:
    """A value of this type that no default has."""
    if is_dataclass(kind):
        return kind(**{n: away(k, n) for n, k in fields_of(kind)})
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Literal:
        return inner[-1]
    if origin in (Union, UnionType):
        return away(next(k for k in inner if k is not type(None)), name)
    if origin is tuple:
        return (away(inner[0], name),) * 2 if inner[-1] is Ellipsis else tuple(away(k, name) for k in inner)
    if kind in (str, float, int, bool):
        known = {"unit": "psi", "shown_in": "inHg", "circuit": "tank", "intake": "reed", "seal_lips": "twin"}
        sizes = {"volume_m3": 250e-6, "barometer_pa": 98e3, "temperature_k": 290.5}
        plain = {str: known.get(name, f"{name} said"), float: sizes.get(name, 0.375), int: 7, bool: True}
        return plain[kind]
    return {name: {"inside": [1.5, None, {}]}}  # an object that the form leaves as it is


def fields_of(kind: Any) -> list[tuple[str, Any]]:
    hints = get_type_hints(kind)
    return [(f.name, hints[f.name]) for f in fields(kind)]


def whole_job() -> Job:
    """Every record with every field away from its default."""
    kinds = (record.Test, record.SuspectList, record.Note, EngineRun)
    entries = [replace(away(kind, ""), number=k) for k, kind in enumerate(kinds, 1)]
    return Job("2026-017", "2026-03-01", away(Engine, ""), tuple(entries))


def test_every_field_of_every_record_is_written_and_read_back():
    whole = whole_job()
    assert loaded(dumped(whole), "x") == whole
    for entry in (whole.engine, *whole.entries):  # and the job above is what it says
        for name, _ in fields_of(type(entry)):
            default = next(f.default for f in fields(entry) if f.name == name)
            assert getattr(entry, name) != default, name


def keys_in(value: Any, path: str = "") -> Iterator[str]:
    """Every key of the form, with the objects it stands in."""
    for key, inner in value.items() if isinstance(value, dict) else ():
        yield f"{path}{key}"
        if key != "figures":
            yield from keys_in(inner, f"{path}{key}.")
    for inner in value if isinstance(value, list) else ():
        yield from keys_in(inner, path)


def test_every_key_of_the_form_is_documented_and_no_other():
    rows = re.findall(r"^\| `(.+?)` \| .", KEYS.read_text("utf-8"), re.MULTILINE)
    assert len(set(rows)) == len(rows)
    assert set(rows) == set(keys_in(json.loads(dumped(whole_job()))))


def objects_in(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from objects_in(inner)


def with_unknown_keys(data: bytes) -> str:
    """The record as a later version might write it: more keys in every object, in front and behind."""
    value = json.loads(data)
    for one in list(objects_in(value)):
        known = dict(one)
        one.clear()
        one |= {"later_0": copy.deepcopy(UNKNOWN)} | known | {"later_1": copy.deepcopy(UNKNOWN)}
    return json.dumps(value, indent=1, ensure_ascii=False) + "\n"


SEALED = r' "sealed": "[^"]*",\n'


def test_unknown_keys_at_every_level_stay_where_they_are(tmp_path):
    """Byte for byte (the seal apart), through a note, a second note and a correction; new entries stand behind."""
    create(tmp_path, "J", Engine())
    path = tmp_path / "J" / "job.json"
    later = with_unknown_keys(dumped(replace(whole_job(), reference="J")))
    path.write_text(later, encoding="utf-8")
    later = re.sub(SEALED, "", later)
    for entry in (note_of("a"), note_of("b", repair=True), note_of("P-2", corrects="serial")):
        with writing(tmp_path, "J") as at:
            add_note(at, entry)
    now = re.sub(SEALED, "", path.read_text("utf-8"))
    head, entries, tail = later.partition('\n ],\n "later_1": {\n  "shop"')
    assert entries and now.startswith(head) and now.endswith(entries + tail)
    assert [e.number for e in loaded(now.encode(), "x").entries] == list(range(1, 8))


def test_written_and_read_back_alike():
    whole = full_job()
    assert loaded(dumped(whole), "x") == whole
    noted = job(note(1, NASTY), note(2, "P-2", "correction", corrects="serial", seen=("soap",)))
    assert loaded(dumped(noted), "x") == noted


def test_what_is_no_text_becomes_question_marks(tmp_path):
    job = create(tmp_path, "J", Engine(engine="a\udcff", parts_changed=("\ud800", "b\0")))
    assert job.engine.engine == "a?" and job.engine.parts_changed == ("?", "b\0")
    with writing(tmp_path, "J") as at:
        assert add_note(at, note_of("\udc80", place="\udc81")) == at.job.entries[0]
        assert (at.job.entries[0].text, at.job.entries[0].place) == ("?", "?")


def test_what_could_not_be_read_again_is_not_written(tmp_path):
    create(tmp_path, "J", Engine())
    before = (tmp_path / "J" / "job.json").read_bytes()
    with writing(tmp_path, "J") as at, pytest.raises(RecordError, match="entries 1.text"):
        at.add(note(1, 3))
    assert (tmp_path / "J" / "job.json").read_bytes() == before


def test_a_volume_without_doubt_is_not_the_same_as_one_of_unknown_doubt():
    whole = full_job()
    test = whole.tests[0]
    conditions = replace(test.inputs.conditions, volume_u_m3=0.0)
    exact = replace(test, inputs=replace(test.inputs, conditions=conditions))
    again = loaded(dumped(replace(whole, entries=(exact,))), "x")
    assert again.tests[0].inputs.conditions.volume_u_m3 == 0.0


@pytest.mark.parametrize(("number", "wanted"), [(FORM + 1, "newer"), (FORM - 1, "No released"), (0, "No")])
def test_another_form_is_refused(number, wanted):
    value = json.loads(dumped(full_job())) | {FORM_KEY: number}
    with pytest.raises(RecordError, match=f"form {number}; this leakdown knows form {FORM}") as caught:
        loaded(json.dumps(value).encode(), "jobs/a/job.json")
    assert caught.value.where == "jobs/a/job.json" and wanted in caught.value.remedy


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"null", b"[]", b"{}", b'{"leakdown_job": true}', b'{"leakdown_job": "2"}', b"\xff\xfe{}",
     b'{"leakdown_job": 4, "reference": NaN}', b"[" * 100_000, b'{"leakdown_job": 4, "reference": 3}',
     b'{"leakdown_job": 4, "entries": [], "reference": 3}', b'{"leakdown_job": 4, "later": 1e400}',
     b'{"leakdown_job": 4, "later": "\\ud800"}'],
)  # fmt: skip
def test_damage_is_named(data):
    with pytest.raises(RecordError, match="damaged") as caught:
        loaded(data, "jobs/a/job.json")
    assert caught.value.where == "jobs/a/job.json" and caught.value.remedy


@pytest.mark.parametrize(
    ("path", "wrong", "words"),
    [
        (("engine", "serial"), 3, "engine.serial: Expected `str`, got `int`"),
        (("entries", 1, "number"), -1, "entries 2.number: below zero"),
        (("entries", 2, "kind"), "x", "entries 3.kind: not one of test, suspects, photo, run, note, repair"),
        (("entries", 0, "inputs", "conditions", "unit"), "cubit", "entries 1: unit 'cubit'"),
        (("entries", 0, "inputs", "absolute"), 1, "entries 1.inputs.absolute: Expected `bool`"),
        (("entries", 0, "inputs", "hold_s"), [1], "entries 1.inputs.hold_s: Expected `array` of length 2"),
        (("entries", 1, "suspects"), [{"place": "x"}], "entries 2.suspects[0]: Object missing"),
    ],
)
def test_damage_is_named_with_its_place(path, wrong, words):
    value = at = json.loads(dumped(whole_job()))
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = wrong
    with pytest.raises(RecordError) as caught:
        loaded(json.dumps(value).encode(), "x")
    assert words in caught.value.what


def test_a_record_cannot_name_a_file_outside():
    for name in ("../evil", "a/b", "..", "a\\b", ""):
        value = json.loads(dumped(full_job()))
        value["entries"][0]["recording"]["file"] = name
        with pytest.raises(RecordError, match="leads out"):
            loaded(json.dumps(value).encode(), "x")


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_any_value_of_another_type_is_refused_or_read_never_a_crash(data):
    value = json.loads(dumped(full_job()))
    at = value
    while True:
        key = data.draw(st.sampled_from(sorted(at) if isinstance(at, dict) else range(len(at))))
        inner = at[key]
        if not (isinstance(inner, dict | list) and inner and data.draw(st.booleans())):
            break
        at = inner
    at[key] = copy.deepcopy(data.draw(st.sampled_from([None, True, -1, 1.5, "x", [], {}, [1], {"a": 1}])))
    try:
        again = loaded(json.dumps(value).encode(), "x")
    except RecordError:
        return
    dumped(again)
    row_of(again), json.dumps(job_object(again), allow_nan=False)
    job_lines(again, 80, lambda text, role: text), job_page(again, {}, drawn=False)
