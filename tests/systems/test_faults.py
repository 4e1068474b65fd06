"""Disks that are full or shut, writers that are killed, clocks that step: nothing is lost, and it is said.

Faults of the system are played by the calls that meet them (`os.open`, `os.fsync`, `os.replace`), so that the tests run
as any user; errors by their POSIX numbers.
"""

from __future__ import annotations

import ast
import errno
import functools
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from leakdown import disk
from leakdown.cli.results import write_text
from leakdown.disk import TEMPORARY, write_output, write_whole
from leakdown.errors import LeakdownError, OutputError
from leakdown.jobs import lock, store
from leakdown.jobs.adding import add_note, note_of
from leakdown.jobs.check import export
from leakdown.jobs.record import Engine
from leakdown.judge import rig_store
from leakdown.judge.rig import Rig
from leakdown.live.capture.recording_file import RecordingFile
from leakdown.live.capture.session import Row
from leakdown.recording import Conditions, Recording
from leakdown.report import picture
from leakdown.report.chart_data import Chart
from leakdown.settings import read_settings, set_value
from leakdown.sheets import native_write
from leakdown.sheets.file import read
from tests.jobs.records import note
from tests.test_structure import SOURCE, modules

pytestmark = pytest.mark.slow

posix = pytest.mark.skipif(os.name != "posix", reason="forks")
FULL = (errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO)
STEPS = ("open", "fsync", "replace")
RECORDING = Recording(np.arange(3.0), np.full(3, 4e4), conditions=Conditions(), source="a.csv")


@dataclass(frozen=True)
class Written:
    """Something that is kept: the file, and how it is written."""

    path: Path
    write: Callable[[], object]


def _job_note(root: Path) -> None:
    with store.writing(root, "j") as at:
        add_note(at, note_of("seal pressed in"))


def _all(folder: Path) -> dict[str, Written]:
    """Every kind of file that the program writes, each there already in an older form."""
    root, rigs, settings = folder / "jobs", folder / "rigs", folder / "settings.toml"
    store.create(root, "j", Engine(engine="Pump"))
    rig_store.save(Rig("R"), rigs)
    set_value("unit", "kPa", settings)
    page, chart, sheet, packed = (folder / name for name in ("page.html", "chart.svg", "sheet.csv", "job.zip"))
    for path in (page, chart, sheet, packed):
        path.write_bytes(b"old")
    drawn = b"<svg></svg>"
    return {
        "page": Written(page, lambda: write_text(page, "<html></html>")),
        "picture": Written(chart, lambda: _saved(chart, drawn)),
        "sheet": Written(sheet, lambda: native_write.write(RECORDING, sheet)),
        "rig": Written(rigs / "R.json", lambda: rig_store.save(Rig("R", volume_m3=5e-5), rigs)),
        "settings": Written(settings, lambda: set_value("unit", "psi", settings)),
        "record": Written(root / "j" / "job.json", lambda: _job_note(root)),
        "zip": Written(packed, lambda: export(root / "j", store.load(root / "j"), packed)),
    }


def _saved(path: Path, drawn: bytes) -> None:
    """`picture.save` with the drawing done already."""
    before = picture.picture
    picture.picture = lambda *given: drawn
    try:
        picture.save(Chart.__new__(Chart), path)
    finally:
        picture.picture = before


def _failing(monkeypatch: pytest.MonkeyPatch, step: str, number: int, folder: Path) -> None:
    """Writing a new file in `folder` fails at `step`, as the system says it."""
    real = getattr(os, step)

    def fails(*given: object, **more: object) -> object:
        opened = step != "open" or (f"{TEMPORARY}" in str(given[0]) and given[1] & os.O_CREAT)
        if opened:
            raise OSError(number, os.strerror(number))
        return real(*given, **more)

    monkeypatch.setattr(os, step, fails)


@pytest.mark.parametrize("number", FULL, ids=errno.errorcode.get)
@pytest.mark.parametrize("step", STEPS)
def test_what_cannot_be_written_leaves_the_old_and_says_so(tmp_path, monkeypatch, step, number):
    for kind, written in _all(tmp_path).items():
        before = written.path.read_bytes()
        with monkeypatch.context() as patch:
            _failing(patch, step, number, tmp_path)
            with pytest.raises(OutputError) as caught:
                written.write()
        said = str(caught.value)
        assert os.strerror(number) in said and written.path.name in said and len(said.splitlines()) == 2, (kind, said)
        assert written.path.read_bytes() == before, kind
        assert not list(tmp_path.rglob(f"{TEMPORARY}*")), kind
        written.write()  # once there is room again
        assert written.path.read_bytes() != before, kind


@pytest.mark.parametrize("number", FULL, ids=errno.errorcode.get)
def test_a_job_that_cannot_be_made_leaves_nothing(tmp_path, monkeypatch, number):
    _failing(monkeypatch, "fsync", number, tmp_path)
    with pytest.raises(OutputError, match="cannot"):
        store.create(tmp_path / "jobs", "j", Engine())
    assert not list((tmp_path / "jobs").iterdir())


def test_a_recording_that_has_no_room_is_said_and_the_record_stands(tmp_path, monkeypatch):
    root = tmp_path / "jobs"
    store.create(root, "j", Engine())
    with monkeypatch.context() as patch:
        _failing(patch, "fsync", errno.ENOSPC, tmp_path)
        with pytest.raises(OutputError, match="a.csv.*No space left"), store.writing(root, "j") as at:
            at.keep(b"0,1\n", "a.csv")
    assert store.load(root / "j").entries == ()
    with store.writing(root, "j") as at:
        assert at.keep(b"0,1\n", "a.csv").file == "a.csv"


def test_a_lock_on_a_full_disk_holds_without_its_words(tmp_path, monkeypatch):
    def full(handle: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "write", full)
    with lock.locked(tmp_path):
        busy = pytest.raises(LeakdownError, match="another leakdown .*unknown process")
        with busy, lock.locked(tmp_path, wait_s=0.0):
            raise AssertionError("both are in")


def test_a_folder_that_may_not_be_written_cannot_be_locked(tmp_path, monkeypatch):
    def refuse(*given: object) -> int:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(LeakdownError, match=r"locked for writing: Read-only.*\n.*rights"), lock.locked(tmp_path):
        raise AssertionError("it is in")


def _killed_at(step: int, path: Path, write: Callable[[], object]) -> int:
    """The exit status of a child that dies at its step-th call to the disk, half of what it writes written."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    seen = 0

    def deadly(real: Callable[..., object], *given: object, **more: object) -> object:
        nonlocal seen
        seen += 1
        if seen == step:
            os._exit(9)
        return real(*given, **more)

    for name in STEPS:
        setattr(os, name, functools.partial(deadly, getattr(os, name)))
    try:
        write()
    finally:
        os._exit(0)


@posix
@pytest.mark.parametrize("kind", ["page", "picture", "sheet", "rig", "settings", "record"])
def test_a_writer_killed_at_any_step_leaves_the_old_or_the_new(tmp_path, kind):
    ended = []
    for step in range(1, 30):
        folder = tmp_path / str(step)
        folder.mkdir()
        written = _all(folder)[kind]
        old = written.path.read_bytes()
        ended.append(_killed_at(step, written.path, written.write))
        now = written.path.read_bytes()
        if now != old:
            _whole(kind, written.path)
        written.write()  # the next one is not hindered
        _whole(kind, written.path)
        if ended[-1] == 0:
            break
    assert len(ended) > 3 and set(ended[:-1]) == {9} and ended[-1] == 0


def _whole(kind: str, path: Path) -> None:
    """The file is a whole one of its kind."""
    if kind == "settings":
        assert read_settings(path).unit == "psi"
    elif kind == "record":
        assert store.load(path.parent).entries
    elif kind == "rig":
        assert rig_store.load("R", path.parent).volume_m3 == 5e-5
    else:
        ends = {"page": b"</html>", "picture": b"</svg>", "sheet": b"\n"}[kind]
        assert path.read_bytes().endswith(ends)


@pytest.mark.parametrize(
    ("number", "said"),
    [(errno.ENOSPC, "the disk is full"), (errno.EDQUOT, "the disk is full"), (errno.EIO, "cannot be written any more")],
)
def test_a_recording_that_meets_the_end_of_the_disk_keeps_whole_lines(tmp_path, monkeypatch, number, said):
    """The last write arrives by half, as a full disk lets it."""
    file = RecordingFile(tmp_path / "a.csv", (("gauge", "x"),))
    file.write([Row(0.1 * i, 1e3 * i) for i in range(10)])
    whole, real = (tmp_path / "a.csv").read_bytes(), os.write
    with monkeypatch.context() as patch:
        half = iter([True])

        def full(handle: int, data: bytes) -> int:
            if next(half, False):
                return real(handle, data[: len(data) // 2])
            raise OSError(number, os.strerror(number))

        patch.setattr(os, "write", full)
        with pytest.raises(OutputError, match=said) as caught:
            file.write([Row(1.0, 11e3, "a mark of some length")])
    assert len(str(caught.value).splitlines()) == 2
    assert (tmp_path / "a.csv").read_bytes() == whole
    file.write([Row(1.1, 12e3)])  # room again: it goes on
    file.close()
    assert read(tmp_path / "a.csv").pressure_pa.size == 11


@pytest.mark.parametrize("number", (errno.EROFS, errno.EACCES, errno.ENOSPC))
def test_a_recording_that_cannot_be_begun_names_the_option(tmp_path, monkeypatch, number):
    def refuse(*given: object) -> int:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(OutputError, match="cannot write here.*\n.*--out"):
        RecordingFile(tmp_path / "a.csv", ())


_TWENTY = """
import os, sys
from pathlib import Path
from leakdown.jobs.adding import add_note, note_of
from leakdown.jobs.store import writing
for name in range(20):
    if os.fork() == 0:
        for i in range(3):
            with writing(Path(sys.argv[1]), 'j') as at:
                add_note(at, note_of(f'{name}-{i}'))
        os._exit(0)
sys.exit(max(os.waitstatus_to_exitcode(os.wait()[1]) for _ in range(20)))
"""


@posix
def test_twenty_writers_to_one_job_lose_nothing(tmp_path):
    store.create(tmp_path, "j", Engine())
    assert subprocess.run([sys.executable, "-c", _TWENTY, str(tmp_path)], timeout=120, check=False).returncode == 0
    job = store.load(tmp_path / "j")
    assert [entry.number for entry in job.entries] == list(range(1, 61))
    assert {entry.text for entry in job.entries} == {f"{name}-{i}" for name in range(20) for i in range(3)}


def test_a_clock_that_steps_back_turns_no_entries_round(tmp_path, monkeypatch):
    """The number of an entry says its place, never its time of day."""
    store.create(tmp_path, "j", Engine())
    for at in ("2026-03-01T10:00:00+01:00", "2026-03-01T09:00:00+01:00", "1970-01-01T00:00:00+00:00"):
        monkeypatch.setattr(store, "now", lambda at=at: at)
        with store.writing(tmp_path, "j") as writing:
            add_note(writing, note(0, at))
    job = store.load(tmp_path / "j")
    assert [entry.number for entry in job.entries] == [1, 2, 3]
    assert [entry.at for entry in job.entries] == [entry.text for entry in job.entries]


def test_no_reading_is_timed_by_the_clock_of_the_day():
    """It steps when it is set, in spring and in autumn; what measures asks the monotonic one."""
    rooms, wrong = ("live", "hold", "fit", "physics", "sheets", "runs"), []
    for path, tree in modules().values():
        name = path.relative_to(SOURCE).as_posix()
        for node in ast.walk(tree) if name.startswith(rooms) else ():
            called = ast.unparse(node.func) if isinstance(node, ast.Call) else ""
            if called in ("time.time", "datetime.now", "datetime.utcnow", "date.today"):
                wrong.append(f"{name}:{node.lineno} {called}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(("held", "written"), [(2, True), (9, False)])
def test_a_file_that_somebody_reads_is_replaced_a_moment_later(tmp_path, monkeypatch, held, written):
    """On Windows a file that is open elsewhere cannot be replaced: WinError 5 or 32, a PermissionError."""
    target, real, asked = tmp_path / "job.json", os.replace, []

    def busy(*given: object) -> None:
        asked.append(given)
        if len(asked) <= held:
            raise PermissionError(errno.EACCES, "The process cannot access the file")
        real(*given)

    write_whole(target, b"old")
    monkeypatch.setattr(disk, "_TRIES", 5)
    monkeypatch.setattr(disk, "_PAUSE_S", 0.0)
    monkeypatch.setattr(os, "replace", busy)
    if written:
        write_whole(target, b"new")
    else:
        with pytest.raises(OutputError, match="cannot access"):
            write_whole(target, b"new")
    assert target.read_bytes() == (b"new" if written else b"old") and os.listdir(tmp_path) == ["job.json"]


def test_outputs_go_through_links_and_into_what_is_no_file(tmp_path):
    write_output(tmp_path / "a.html", b"1")
    link = tmp_path / "link.html"
    try:
        link.symlink_to(tmp_path / "a.html")
    except OSError:
        pytest.skip("no links here")
    write_output(link, b"2")
    assert link.is_symlink() and (tmp_path / "a.html").read_bytes() == b"2"
    write_output(Path(os.devnull), b"3")
    for place, why in ((tmp_path, "directory"), (tmp_path / "none" / "b.html", "No such file")):
        with pytest.raises(OutputError, match=f"(?i){why}"):
            write_output(place, b"4")
    with pytest.raises(OutputError):
        write_whole(tmp_path / "a\0.html", b"5")


@posix
@pytest.mark.slow
def test_a_home_that_cannot_be_written_keeps_nothing_back(tmp_path):
    """A file stands where the home should be: nothing can be made in it, by any user."""
    home = tmp_path / "home"
    home.write_text("no folder", encoding="utf-8")
    data = SOURCE.parent / "datasets" / "1_rig_capped.csv"
    env = {key: value for key, value in os.environ.items() if not key.startswith(("XDG_", "LEAKDOWN_", "MPL"))}
    env |= {"HOME": str(home), "COLUMNS": "100"}

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "leakdown", *words]
        return subprocess.run(command, capture_output=True, text=True, env=env, cwd=SOURCE.parent, timeout=120)

    chart = tmp_path / "chart.png"
    drawn = run("analyse", str(data), "--chart", str(chart))
    assert drawn.returncode == 0 and chart.is_file() and drawn.stderr.splitlines() == [f"Chart: {chart}"]
    for words in (("settings", "set", "unit", "psi"), ("rig", "keep", "R", str(data))):
        refused = run(*words)
        assert refused.returncode == 1 and "cannot be written" in refused.stderr and str(home) in refused.stderr
        assert "Traceback" not in refused.stderr and len(refused.stderr.splitlines()) == 2


@posix
@pytest.mark.slow
@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_closed_streams_are_no_fault(closed):
    sheet = SOURCE.parent / "datasets" / "4_needle_sheet_vacuum.csv"
    command = f"{sys.executable} -m leakdown convert {sheet} {closed}"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, cwd=SOURCE.parent, timeout=120)
    assert done.returncode == 0 and "fault" not in done.stderr
