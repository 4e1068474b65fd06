"""An export with a recording left out is none; a list says "found" only for what was found."""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256

import pytest

from leakdown.errors import RecordError
from leakdown.jobs.check import export
from leakdown.jobs.listing import row_of
from leakdown.jobs.terminal import row_lines
from tests.jobs.records import SEAL, full_job, job, test_entry


@pytest.mark.parametrize("harm", [lambda p: p.unlink(), lambda p: p.write_bytes(b"other")])
def test_no_zip_without_every_recording(tmp_path, harm):
    data, entry = b"time_s,pressure_kpa\n", test_entry(1)
    record = job(replace(entry, recording=replace(entry.recording, sha256=sha256(data).hexdigest())))
    folder, target = tmp_path / "one", tmp_path / "one.zip"
    (folder / "recordings").mkdir(parents=True)
    (folder / "recordings" / "1.csv").write_bytes(data)
    assert export(folder, record, target) and target.exists()
    target.unlink()
    harm(folder / "recordings" / "1.csv")
    with pytest.raises(RecordError, match=r"1\.csv"):
        export(folder, record, target)
    assert not target.exists()


def test_found_only_where_somebody_found_it():
    shown = row_lines([row_of(full_job()), row_of(job(test_entry(1, "fail", place=SEAL)))], 80, lambda text, _: text)
    assert "found: seal, drive side" in shown[1] and "likely: " in shown[3] and "found" not in shown[3]
