"""A record that is not as it was written is noticed, for every bit of it, and goes on being noticed."""

from __future__ import annotations

import json
from dataclasses import replace

from leakdown.errors import RecordError
from leakdown.jobs.check import check
from leakdown.jobs.form import BROKEN, SEAL_KEY, dumped, loaded
from tests.jobs.records import job, note, test_entry

SMALL = dumped(job(note(1, "looked at"), engine="P", serial="1"))


def edited(data):
    try:
        return loaded(data, "x").document.get(SEAL_KEY) == BROKEN
    except RecordError:
        return True


def test_every_flip_of_one_bit_is_noticed():
    assert not edited(SMALL)
    for place in range(8 * len(SMALL)):
        data = bytearray(SMALL)
        data[place // 8] ^= 1 << place % 8
        assert edited(bytes(data)), place


def test_an_edit_is_read_and_reported_after_later_entries(tmp_path):
    whole = dumped(job(test_entry(1)))
    changed = whole.replace(b'"before"', b'"after"')
    assert changed != whole
    read = loaded(changed, "x")
    later = loaded(dumped(replace(read, entries=(*read.entries, note(2)))), "x")
    assert later.tests[0].stage == "after" and len(later.entries) == 2
    assert check(tmp_path, later).edited and not check(tmp_path, later).sound


def test_a_record_without_a_seal_is_an_older_one_and_is_sealed_with_its_next_entry():
    plain = {key: value for key, value in json.loads(SMALL).items() if key != SEAL_KEY}
    old = loaded(json.dumps(plain).encode(), "x")
    assert old.document.get(SEAL_KEY) is None and not edited(dumped(old))
