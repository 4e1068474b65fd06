"""Folders: made once, never through links, one writer at a time, recordings byte for byte."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from leakdown.disk import write_whole
from leakdown.errors import OutputError, RecordError, UsageError
from leakdown.jobs.adding import add_note, note_of
from leakdown.jobs.check import check, export
from leakdown.jobs.lock import WAIT_S, locked
from leakdown.jobs.record import Engine
from leakdown.jobs.store import RECORD, create, folder_of, job_names, load, recording_bytes, writing

posix = pytest.mark.skipif(os.name != "posix", reason="links and forks of POSIX")


@pytest.fixture
def root(tmp_path: Path) -> Path:
    create(tmp_path / "jobs", "A1", Engine(engine="Pump"))
    return tmp_path / "jobs"


def said(text: str, **more: object):
    return note_of(text, **more)


def test_a_job_is_made_once_capitals_apart(root):
    for name in ("A1", "a1"):
        with pytest.raises(RecordError, match="already"):
            create(root, name, Engine())
    assert sorted(os.listdir(root)) == ["A1"]
    assert sorted(os.listdir(root / "A1")) == ["job.json", "recordings"]


def test_jobs_are_folders_and_neither_hidden_nor_elsewhere(root, tmp_path):
    """Sorted by name; a file, what begins with a dot and a link to another folder are no jobs; no folder, no jobs."""
    create(root, "A0", Engine())
    (root / "A2").write_text("a file")
    (root / ".A3").mkdir()
    if os.name == "posix":
        (root / "A4").symlink_to(root / "A1", target_is_directory=True)
    assert job_names(root) == ["A0", "A1"] and job_names(tmp_path / "nowhere") == []
    with pytest.raises(RecordError, match="cannot be read"):
        job_names(root / "A2")


def test_a_missing_job_is_named_and_a_near_one_offered(root):
    with pytest.raises(RecordError, match="no job 'b'"):
        folder_of(root, "b")
    with pytest.raises(UsageError):
        folder_of(root, "../A1")


def test_an_unreadable_record_is_refused_and_left_as_it_is(root):
    (root / "A1" / RECORD).write_bytes(b"{ torn")
    with pytest.raises(RecordError, match="damaged"), writing(root, "A1") as at:
        add_note(at, said("x"))
    assert (root / "A1" / RECORD).read_bytes() == b"{ torn"
    (root / "A1" / RECORD).unlink()
    with pytest.raises(RecordError, match="missing"):
        load(root / "A1")


@posix
def test_nothing_is_read_or_written_through_links(root, tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (root / "L1").symlink_to(root / "A1")
    with pytest.raises(RecordError, match="link"):
        folder_of(root, "L1")
    (root / "A1" / "recordings").rmdir()
    (root / "A1" / "recordings").symlink_to(outside)
    with writing(root, "A1") as at, pytest.raises(RecordError, match="plain folder"):
        at.keep(b"1", "a.csv")
    assert not list(outside.iterdir())
    secret = outside / "secret"
    secret.write_text("s")
    (root / "A1" / "report.html").symlink_to(secret)
    write_whole(root / "A1" / "report.html", b"page")  # takes the link's place
    assert secret.read_text() == "s" and not (root / "A1" / "report.html").is_symlink()
    (root / "A1" / "chart.png").symlink_to(secret)
    names = export(root / "A1", load(root / "A1"), tmp_path / "x.zip")
    assert names == ("A1/job.json", "A1/report.html")
    (root / "A1" / RECORD).unlink()
    (root / "A1" / RECORD).symlink_to(secret)
    with pytest.raises(RecordError, match="link"):
        load(root / "A1")


def test_recordings_are_kept_byte_for_byte_and_checked(root):
    with writing(root, "A1") as at:
        kept = [
            at.keep(data, name) for data, name in ((b"\x00\xffa\r\n", "a.csv"), (b"2", "A.CSV"), (b"3", "../a.csv"))
        ]
    assert [k.file for k in kept] == ["a.csv", "A-2.CSV", "a-3.csv"]
    assert recording_bytes(root / "A1", kept[0]) == b"\x00\xffa\r\n"
    (root / "A1" / "recordings" / "a.csv").write_bytes(b"\x00\xffa\n")
    with pytest.raises(RecordError, match="checksum"):
        recording_bytes(root / "A1", kept[0])
    assert check(root / "A1", load(root / "A1")).strangers == ("A-2.CSV", "a-3.csv", "a.csv")


def _holder(folder: Path, hold_s: float) -> subprocess.Popen[str]:
    """A process of its own that locks the folder, says "held" and keeps it."""
    code = (
        "import sys, time\nfrom pathlib import Path\nfrom leakdown.jobs.lock import locked\n"
        f"with locked(Path(sys.argv[1])):\n    print('held', flush=True)\n    time.sleep({hold_s})\n"
    )
    return subprocess.Popen([sys.executable, "-c", code, str(folder)], stdout=subprocess.PIPE, text=True)


@posix
def test_a_second_writer_waits_then_says_who(root):
    holder = _holder(root / "A1", 30.0)
    try:
        assert holder.stdout.readline() == "held\n"
        start = time.monotonic()
        with pytest.raises(RecordError, match=f"process {holder.pid}"), locked(root / "A1", wait_s=0.2):
            pass
        assert time.monotonic() - start < 5
    finally:
        holder.kill()
        holder.communicate()
    with locked(root / "A1", wait_s=2.0):  # the lock of a killed process is no lock
        pass


@pytest.mark.slow
@posix
def test_a_second_writer_waits_for_the_first_to_end(root):
    """As long as adding and drawing a test takes, and no longer than anybody would sit and watch."""
    holder = _holder(root / "A1", 1.5)
    assert holder.stdout.readline() == "held\n"
    with writing(root, "A1"):
        assert holder.wait(10) == 0
    holder.communicate()
    assert WAIT_S <= 60.0


def test_a_zip_stays_out_of_the_job(root, tmp_path):
    job = load(root / "A1")
    with pytest.raises(UsageError, match="inside"):
        export(root / "A1", job, root / "A1" / "x.zip")
    with pytest.raises(UsageError, match="kind"):
        export(root / "A1", job, tmp_path / "x.tar")
    with pytest.raises(OutputError, match="no such folder"):
        export(root / "A1", job, tmp_path / "none" / "x.zip")
    export(root / "A1", job, tmp_path / "a.zip")
    export(root / "A1", job, tmp_path / "b.zip")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()
