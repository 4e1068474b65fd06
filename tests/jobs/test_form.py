"""job.json: written and read back alike; earlier forms brought up, newer and damaged ones refused by name."""

from __future__ import annotations

import copy
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdown.errors import RecordError
from leakdown.jobs.form import FORM, FORM_KEY, dumped, loaded
from leakdown.jobs.listing import row_of
from leakdown.jobs.page import job_page
from leakdown.jobs.words import job_lines, job_object
from tests.jobs.records import NASTY, full_job, job, note


def test_written_and_read_back_alike():
    whole = full_job()
    assert loaded(dumped(whole), "x") == whole
    noted = job(note(1, NASTY), note(2, "P-2", "correction", corrects="serial", seen=("soap",)))
    assert loaded(dumped(noted), "x") == noted


def test_keys_of_others_are_kept():
    value = json.loads(dumped(full_job())) | {"shop": {"bay": 3}}
    again = loaded(json.dumps(value).encode(), "x")
    assert json.loads(dumped(again))["shop"] == {"bay": 3}


def test_a_volume_without_doubt_is_not_the_same_as_one_of_unknown_doubt():
    from dataclasses import replace

    whole = full_job()
    test = whole.tests[0]
    exact = replace(test, said=replace(test.said, conditions=replace(test.said.conditions, volume_u_m3=0.0)))
    again = loaded(dumped(replace(whole, entries=(exact,))), "x")
    assert again.tests[0].said.conditions.volume_u_m3 == 0.0


def test_form_1_is_brought_up():
    entries = json.loads(dumped(full_job()))["entries"]
    old = {
        FORM_KEY: 1,
        "reference": "2026-017",
        "opened": "2026-03-02",
        "engine": {"engine": "Pump", "parts_changed": "carburettor; spark plug"},
        "tests": [e for e in entries if e["kind"] == "test"],
        "repairs": [{"number": 3, "at": "2026-03-04", "text": "new seal"}],
        "notes": [],
    }
    new = loaded(json.dumps(old).encode(), "x")
    assert new.engine.parts_changed == ("carburettor", "spark plug")
    assert [e.number for e in new.entries] == [1, 2, 3, 4, 5] and new.notes("repair")[0].text == "new seal"
    assert json.loads(dumped(new))[FORM_KEY] == FORM


def test_a_newer_form_is_refused():
    value = json.loads(dumped(full_job())) | {FORM_KEY: FORM + 1}
    with pytest.raises(RecordError, match=f"form {FORM + 1}"):
        loaded(json.dumps(value).encode(), "jobs/a/job.json")


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"null", b"[]", b"{}", b'{"leakdown_job": true}', b'{"leakdown_job": "2"}', b"\xff\xfe{}",
     b'{"leakdown_job": 2, "reference": NaN}', b"[" * 100_000, b'{"leakdown_job": 2, "reference": 3}'],
)  # fmt: skip
def test_damage_is_named(data):
    with pytest.raises(RecordError, match="damaged") as caught:
        loaded(data, "jobs/a/job.json")
    assert caught.value.where == "jobs/a/job.json" and caught.value.remedy


def test_a_record_cannot_name_a_file_outside():
    for name in ("../evil", "a/b", "..", "a\\b", ""):
        value = json.loads(dumped(full_job()))
        value["entries"][0]["recording"]["file"] = name
        with pytest.raises(RecordError, match="leads out"):
            loaded(json.dumps(value).encode(), "x")


@given(st.data())
@settings(max_examples=150, deadline=None)
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
