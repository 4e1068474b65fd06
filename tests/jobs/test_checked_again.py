"""What of a job is checked again and drawn on its page, by stand-ins."""

# ruff: noqa: E501  (cases are as long as they are)
from __future__ import annotations

import io
import os
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from leakdown.disk import digest
from leakdown.errors import InputError, OutputError, RecordError, UsageError
from leakdown.jobs import page as page_room
from leakdown.jobs import photos
from leakdown.jobs.check import Check, Checked, _files, check, checked_target
from leakdown.jobs.form import BROKEN, SEAL_KEY, loaded
from leakdown.jobs.listing import row_object, row_of
from leakdown.jobs.overview import overview
from leakdown.jobs.photos import add_photo, plain_jpeg
from leakdown.jobs.record import Engine, Job, Photo, StoredCurve, StoredRecording
from leakdown.jobs.runs_on_page import runs_block
from leakdown.jobs.store import checked_reference, received_bytes, recording_bytes
from leakdown.jobs.tests_on_page import (
    charted_circuits,
    circuit_chart,
    each_test,
    main_chart,
    shown_tests,
    side_by_side,
)
from leakdown.jobs.trend import Visit, _standard, change_words, trend_chart
from tests.jobs.records import SEAL, found, full_job, job, note, test_entry
from tests.jobs.test_pieces_of_jobs import FILE, _with

# ---------------------------------------------------------------- checked again


def test_every_state_of_a_recording(tmp_path: Path) -> None:
    place = tmp_path / "recordings"
    place.mkdir()
    for name, data in (("1.csv", b"one"), ("2.csv", b"two"), ("stranger.csv", b""), (".hidden", b"")):
        (place / name).write_bytes(data)
    (place / "4.csv").mkdir()
    entries = [test_entry(k) for k in (1, 2, 3, 4)]
    entries = [replace(e, recording=replace(e.recording, sha256=digest(b"one"))) for e in entries]
    found_here = check(tmp_path, job(*entries, Photo(5, "", FILE)))
    assert [(c.number, c.file, c.state) for c in found_here.recordings] == [
        (1, "1.csv", "ok"), (2, "2.csv", "changed"), (3, "3.csv", "missing"), (4, "4.csv", "unreadable"), (5, "photos/p.jpg", "missing")
    ]  # fmt: skip
    assert (
        found_here.strangers == ("stranger.csv",)
        and not found_here.stale
        and not found_here.edited
        and not found_here.sound
    )
    words = [Checked(1, "x", state).words for state in ("ok", "changed", "missing", "unreadable")]  # type: ignore[arg-type]
    assert words == ["as received", "NOT the file that was added: its checksum differs", "MISSING", "cannot be read"]
    fine = Check((Checked(1, "x", "ok"),), ("y",), True)
    assert fine.sound and not replace(fine, edited=True).sound and check(tmp_path, job()).recordings == ()
    broken = replace(job(), document={SEAL_KEY: BROKEN})
    assert check(tmp_path, broken).edited
    for name, when in (("job.json", 100), ("report.html", 50)):
        (tmp_path / name).write_text("x")
        os.utime(tmp_path / name, (when, when))
    assert check(tmp_path, job()).stale
    os.utime(tmp_path / "report.html", (100, 100))
    assert not check(tmp_path, job()).stale
    assert [p.name for p in _files(tmp_path)] == ["job.json", "report.html", "1.csv", "2.csv", "stranger.csv"]
    (tmp_path / "linked").symlink_to(place, target_is_directory=True)
    with pytest.raises(UsageError, match="unknown kind of file"):
        checked_target(tmp_path, tmp_path.parent / "x.tar")
    with pytest.raises(UsageError, match="lies inside the job's own folder"):
        checked_target(tmp_path, tmp_path / "recordings" / "x.zip")
    with pytest.raises(OutputError, match="no such folder"):
        checked_target(tmp_path, tmp_path.parent / "nowhere" / "x.zip")
    checked_target(tmp_path, tmp_path.parent / "X.ZIP")


def test_bytes_that_come_in_and_come_back(tmp_path: Path) -> None:
    place = tmp_path / "recordings"
    stored = StoredRecording("1.csv", "1.csv", digest(b"one"), 3)
    with pytest.raises(RecordError, match="is not a plain folder"):
        recording_bytes(tmp_path, stored)
    place.mkdir()
    with pytest.raises(RecordError, match="the recording is missing"):
        recording_bytes(tmp_path, stored)
    (place / "1.csv").write_bytes(b"one")
    assert recording_bytes(tmp_path, stored) == b"one" == received_bytes(place / "1.csv")
    (place / "1.csv").write_bytes(b"two")
    with pytest.raises(RecordError, match="its checksum differs"):
        recording_bytes(tmp_path, stored)
    with pytest.raises(InputError, match="cannot be opened: "):
        received_bytes(tmp_path / "none")
    assert checked_reference("x" * 64) == "x" * 64
    for text, why in (("x" * 65, "Use at most 64 bytes"), ("a/b", "Use letters"), ("a..b", "Use letters"), ("a.", "Use letters"),
                      ("con", "This name is reserved"), ("", "Use letters"), ("-a", "Use letters")):  # fmt: skip
        with pytest.raises(UsageError, match="cannot be a job reference") as caught:
            checked_reference(text)
        assert why in str(caught.value)


def test_photographs_that_are_refused() -> None:
    with pytest.raises(InputError, match="x: is no picture that can be read") as caught:
        plain_jpeg(b"no picture", "x")
    assert caught.value.remedy == "Give a PNG, WEBP, TIFF, BMP, GIF or JPEG file."
    at: Any = SimpleNamespace(job=job())
    for more in ({"place": "x" * 10_001}, {"text": "x" * 10_001}):
        with pytest.raises(UsageError, match="longer than 10000 letters"):
            add_photo(at, b"", "x", **more)


@pytest.mark.parametrize(
    ("form", "what"),
    [
        ("5", "Use the newer leakdown"),
        ("3", "No released leakdown wrote it."),
        ("true", "does not say its form"),
        ('"4"', "does not say its form"),
    ],
)
def test_records_of_another_form(form: str, what: str) -> None:
    with pytest.raises(RecordError) as caught:
        loaded(b'{"leakdown_job": ' + form.encode() + b"}", "x")
    assert what in str(caught.value)


# ---------------------------------------------------------------- drawn on the page


def _analysis(*flags: Any) -> Any:
    return SimpleNamespace(flags=flags, residual_time_s=np.zeros(0), recording="r", verdict=None)


def test_which_circuits_and_tests_are_charted(monkeypatch: pytest.MonkeyPatch) -> None:
    line, case, rig = test_entry(1, circuit="fuel-line"), test_entry(2), test_entry(3, circuit="rig")
    every: Any = {k: _analysis() for k in (1, 2, 3, 4, 5)}
    assert charted_circuits(job(line, rig, case), every) == ["crankcase", "fuel-line"]
    assert charted_circuits(job(rig), every) == ["rig"] and charted_circuits(job(line, case), {1: every[1]}) == [
        "fuel-line"
    ]
    assert (
        main_chart(job(), {}) is None is main_chart(job(case), {}) and circuit_chart(job(case), "crankcase", {}) is None
    )
    part = _with(test_entry(4), blocked=("boot",))
    again, vacuum, after = test_entry(5), test_entry(6, direction="vacuum"), test_entry(7, stage="after")
    every |= {6: _analysis(), 7: _analysis()}
    tests = shown_tests(job(part, case, again, vacuum, after), "crankcase", every)
    assert [t.number for t in tests] == [5, 6, 7, 4]
    drawn: list[Any] = []
    monkeypatch.setattr(
        "leakdown.jobs.tests_on_page.decay_chart", lambda *shown, **more: drawn.append((len(shown), more)) or "chart"
    )
    assert main_chart(job(case), every) == "chart" and drawn[-1] == (1, {})
    circuit_chart(job(case, vacuum), "crankcase", every)
    assert drawn[-1] == (2, {"names": ["pressure", "vacuum"], "limits_within": 1.2})
    circuit_chart(job(part, again, after), "crankcase", every)
    assert drawn[-1][1]["names"] == ["pressure before", "pressure after", "pressure, without boot, before"]
    monkeypatch.setattr("leakdown.jobs.tests_on_page.readings_table", lambda recording: recording)
    shown = each_test(job(case, part), {2: every[2], 4: every[4]})
    assert [(t.number, t.name, t.file, t.picture) for t in shown] == [
        (2, "2. Crankcase, pressure, before", "2.csv", None), (4, "4. Crankcase, pressure, without boot, before", "4.csv", None)
    ]  # fmt: skip


def test_cautions_of_every_circuit_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_room, "work_cautions", lambda analysis: (f"first {analysis}", "same"))
    told = job(test_entry(1), test_entry(2), test_entry(3, circuit="fuel-line"))
    every: Any = {1: "a", 2: "b", 3: "c"}
    assert page_room._cautions(told, every) == ["Crankcase: first b", "same", "Fuel line: first c"]
    assert page_room._cautions(told, {1: "a"}) == ["first a", "same"]  # type: ignore[dict-item]


def test_what_cannot_be_shown_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def again(folder: Path, test: Any) -> Any:
        if test.number == 1:
            raise RecordError("gone", where="/somewhere/1.csv")
        if test.number == 2:
            raise RecordError("gone")
        return SimpleNamespace(verdict=SimpleNamespace(word="pass") if test.number == 3 else None)

    monkeypatch.setattr(page_room, "analysed_again", again)
    troubles: list[str] = []
    found_here = page_room._analyses(
        tmp_path, job(test_entry(1), test_entry(2), test_entry(3), test_entry(4, "fail")), troubles
    )
    assert list(found_here) == [3, 4]
    assert troubles == [
        "Test 1, 1.csv: gone. Its result of 2026-03-02 stands below.",
        "Test 2, gone. Its result of 2026-03-03 stands below.",
        "Test 4 was fail with leakdown 0.1.0 and is undecided with this one: look at it again.",
    ]
    troubles.clear()

    def broken() -> None:
        raise ValueError("no ink")

    assert page_room._tried(broken, "the chart", troubles) is None and page_room._tried(lambda: 3, "x", troubles) == 3
    assert troubles == ["the chart could not be drawn (ValueError: no ink)"]


def test_the_sheet_without_its_chart(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def draw(told: Job, analyses: Any) -> str:
        if analyses:
            raise ValueError("no ink")
        return "plain"

    monkeypatch.setattr(
        page_room, "analysed_again", lambda folder, test: SimpleNamespace(verdict=SimpleNamespace(word="pass"))
    )
    monkeypatch.setattr(page_room, "customer_page", draw)
    troubles = page_room.attach_summary(tmp_path, job(test_entry(1)))
    assert troubles == ("the chart of the customer's sheet could not be drawn (ValueError: no ink)",)
    assert (tmp_path / "customer.html").read_text() == "plain"
    monkeypatch.setattr(page_room, "customer_page", lambda told, analyses: f"drawn {len(analyses)}")
    assert (
        page_room.attach_summary(tmp_path, job(test_entry(1))) == ()
        and (tmp_path / "customer.html").read_text() == "drawn 1"
    )


def test_marks_tell_tests_apart() -> None:
    mark = page_room.tests_mark(full_job())
    assert mark == page_room.tests_mark(full_job()) and mark.startswith("tests ")
    assert (
        mark
        == page_room.tests_mark(full_job().with_entry(note(9)))
        != page_room.tests_mark(full_job().with_entry(test_entry(9)))
    )
    assert runs_block(full_job()) == ""


def test_a_row_of_the_overview() -> None:
    row = overview(job(test_entry(1, "fail", place=SEAL), complaint="dies"))
    assert (row.reference, row.day, row.engine, row.complaint, row.role, row.word) == (
        "2026-017",
        "2026-03-01",
        "Pump 40, P-1",
        "dies",
        "fail",
        "FAIL",
    )
    assert row.place == "likely: seal, drive side" and row.wanted == () and row.curves == ()
    none = overview(Job("x", "2026-01-01", Engine()))
    assert (none.role, none.word, none.wanted, none.engine, none.place) == (
        "undecided",
        "NOT TESTED",
        ("A first test",),
        "",
        "",
    )
    curve = StoredCurve((0.0, 60.0), (40.0, 38.0))
    seen = [
        test_entry(k, direction=way, result=replace(found("pass", "crankcase", way, 0.01), curve=curve))
        for k, way in ((1, "pressure"), (2, "vacuum"), (3, "vacuum"))
    ]
    other = test_entry(
        4, circuit="fuel-line", result=replace(found("pass", "fuel-line", "pressure", 0.01), curve=curve)
    )
    assert len(overview(job(*seen)).curves) == 2 and len(overview(job(*seen, other)).curves) == 1
    assert overview(job(test_entry(1))).wanted[0].startswith("Crankcase: a vacuum test")
    assert overview(job(test_entry(1), note(2, "x", place="the boot"))).place == "found: the boot"


def test_a_photograph_may_have_as_many_points_as_the_table_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """20 by 10 are 200 points: as many as may be; 21 by 10 are more. It goes on with its longer side at 16."""
    monkeypatch.setattr(photos, "_T", SimpleNamespace(photo_most_pixels=200, photo_side=16))

    def picture(width: int) -> bytes:
        stream = io.BytesIO()
        Image.new("RGB", (width, 10)).save(stream, "PNG")
        return stream.getvalue()

    with Image.open(io.BytesIO(plain_jpeg(picture(20), "x"))) as kept:
        assert kept.format == "JPEG" and kept.size == (16, 8)
    with pytest.raises(InputError, match="x: has 21 x 10 points"):
        plain_jpeg(picture(21), "x")


def test_a_row_of_the_list_as_an_object() -> None:
    """What nobody said and no test found is null; the rest as it is."""
    row = row_of(job())
    assert (row_object(row)["verdict"], row_object(row)["said"]) == (None, None)
    said = row_object(replace(row, verdict="fail", said="pass"))
    assert (said["verdict"], said["said"], said["reference"]) == ("fail", "pass", row.reference)


def test_tables_side_by_side_begin_with_the_engine() -> None:
    """The crankcase, then what else was tested in its order, the rig last."""
    named = enumerate(("rig", "tank", "crankcase", "fuel-line"), 1)
    tables = side_by_side(job(*(test_entry(k, circuit=name) for k, name in named)), {})
    assert [table.heads[0].name[0] for table in tables] == ["3", "2", "4", "1"]


def test_the_axis_of_a_trend_thins_its_marks() -> None:
    """Ends 450 apart have marks between the powers of ten, 550 apart the powers alone."""

    def marks(apart: float) -> set[float]:
        flow = {"value": None, "low": 1.0 / 0.6, "high": apart / 1.7}
        chart = trend_chart(
            "P-1", [Visit("J1", "2026-03-02", "", "crankcase", "pressure", "before", "pass", "leak", None, flow)]
        )
        assert chart is not None and chart.x_range == pytest.approx((1.0, apart))
        return {at for at, _ in chart.ticks}

    powers = {0.1, 1.0, 10.0, 100.0, 1000.0}
    assert marks(550.0) <= powers and not marks(450.0) <= powers


def test_axes_and_rows_of_a_trend() -> None:
    flow = {"value": 7.0, "low": 6.0, "high": 8.0}
    visit = Visit("J1", "2026-03-02T09:30", "", "crankcase", "pressure", "after", "pass", "leak", None, flow)
    chart = trend_chart(
        "P-1", [visit, replace(visit, reference="J2", leak_cm3_min={"value": None, "low": 0.0, "high": 0.0})]
    )
    assert chart is not None and [row.label for row in chart.rows] == [
        "2026-03-02 J1, after the repair: 7.0 (6.0 to 8.0)"
    ]
    assert (chart.rows[0].value, chart.rows[0].low, chart.rows[0].high, chart.log) == (7.0, 6.0, 8.0, True)
    middle = (0.6 * 6.0 * 1.7 * 8.0) ** 0.5
    assert chart.x_range == pytest.approx((middle / 10**0.5, middle * 10**0.5)) and "serial P-1" in chart.title
    wide = trend_chart("P-1", [visit, replace(visit, leak_cm3_min={"value": 0.1, "low": 0.05, "high": 0.2})])
    assert wide is not None and wide.x_range == pytest.approx((0.6 * 0.05, 1.7 * 8.0))
    part = trend_chart("P-1", [replace(visit, without=("boot",))])
    assert part is not None and part.rows[0].heading == "Crankcase, pressure, without boot"
    assert _standard(replace(found("pass", "crankcase", "pressure", None))) is None
    rates = [
        {"low_pa_m3_s": low, "high_pa_m3_s": high}
        for low, high in ((1.0, 2.0), (2.0, 3.0), (2.1, 3.0), (0.1, 0.9), (0.5, 1.0))
    ]
    words = [
        change_words([replace(visit, leak_rate=rates[0]), replace(visit, reference="J2", leak_rate=rate)])
        for rate in rates[1:]
    ]
    assert (
        ["no change" in w for w in words] == [True, False, False, True]
        and "has grown" in words[1]
        and "is smaller" in words[2]
    )
