"""What can be fed, what it is fed with at first, and what has to hold of whatever comes out.

A target takes bytes. It may end in an answer or in the project's own error; anything else that leaves it is a fault,
and so is an answer that breaks what is asserted here.
"""

from __future__ import annotations

import io
import json
import math
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib import resources
from pathlib import Path

import numpy as np

from leakdown import knowledge as shop_knowledge
from leakdown.errors import LeakdownError
from leakdown.jobs import customer_page, form, listing, page, photos, story
from leakdown.judge import rig_store
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.live.capture.session import Row, Session
from leakdown.live.profiles.files import read_profile
from leakdown.live.profiles.profile import AUTO, Conversion
from leakdown.quantities import PRESSURE_PA, PressureUnit
from leakdown.recording import Recording
from leakdown.report.decay_chart import decay_chart
from leakdown.runs.sheet import read_runs
from leakdown.settings import read_settings, set_value
from leakdown.settings.keys import NAMES, key_of
from leakdown.sheets import native_write
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from leakdown.where import complaint_knowledge, heard, stories, suspects
from leakdown.where import knowledge as place_knowledge
from leakdown.where import tests as test_tables
from leakdown.where.answers import Answers
from leakdown.words.objects import analysis_object
from leakdown.words.terminal import summary, terminal_report
from tests.jobs.records import full_job
from tests.live.line_shapes import SHAPES
from tests.sheets.cases import LAYOUT
from tests.sheets.generated import sheet as generated_sheet
from tests.where.sentences import PLAIN

ROOT = Path(__file__).parents[2]
DATASETS = sorted((ROOT / "datasets").glob("*.csv"))
UNITS = (None, "psi", "kPa abs", "inHg", "mbar")


@dataclass(frozen=True)
class Target:
    """once: takes one input. seeds: the first inputs. Where a choice has to be made, the first byte makes it."""

    once: Callable[[bytes], object]
    seeds: Callable[[], list[bytes]]


# --- sheets, workbooks, own recordings -----------------------------------------------------------------------------


def _assert_sound(recording: Recording) -> None:
    assert recording.time_s.size == recording.pressure_pa.size >= 2
    assert np.isfinite(recording.time_s).all() and np.isfinite(recording.pressure_pa).all()
    assert (np.diff(recording.time_s) > 0.0).all(), "time goes on"


def _assert_same(one: Recording, other: Recording, tolerance: float = 1e-9) -> None:
    assert one.time_s.size == other.time_s.size
    assert np.allclose(one.time_s, other.time_s, rtol=tolerance, atol=1e-9)
    assert np.allclose(one.pressure_pa, other.pressure_pa, rtol=tolerance, atol=1e-6)


def _told(first: int) -> ReadingOptions:
    """How a person says to read the sheet: as it stands, most often."""
    if first % 4:
        return ReadingOptions()
    dice = first // 4
    return ReadingOptions(unit=UNITS[dice % 5], absolute=bool(dice & 16), direction=(None, "vacuum")[dice >> 5 & 1])


def sheet(data: bytes) -> None:
    """Any text; with other line ends, a mark of its encoding or blank lines behind it reads the same."""
    options, text = _told(data[0] if data else 0), data[1:]
    recording = read_bytes(text, "sheet.csv", options)
    _assert_sound(recording)
    if len(text) % 4 or b"\r" in text or b"\x00" in text or b"\x1a" in text or not _is_utf8(text):
        return
    for again in (text.replace(b"\n", b"\r\n"), text.replace(b"\n", b"\r"), b"\xef\xbb\xbf" + text, text + b"\n\n"):
        _assert_same(recording, read_bytes(again, "sheet.csv", options))


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return data[:3] != b"\xef\xbb\xbf"


def _sheet_seeds() -> list[bytes]:
    cases = [good.text if isinstance(good.text, bytes) else good.text.encode() for good in LAYOUT]
    random = [generated_sheet(seed).text.encode() for seed in range(60)]
    return [b"\x01" + text for text in (*cases, *random, DATASETS[3].read_bytes(), DATASETS[1].read_bytes()[:1500])]


def workbook(data: bytes) -> None:
    """Any workbook, whole or not."""
    _assert_sound(read_bytes(data, "book.xlsx", ReadingOptions()))


def _workbook_seeds() -> list[bytes]:
    import openpyxl

    found = []
    for seed in range(12):
        book = openpyxl.Workbook()
        for number, line in enumerate(generated_sheet(seed).text.splitlines(), start=1):
            for column, cell in enumerate(line.replace(";", ",").replace("\t", ",").split(","), start=1):
                numeric = cell.replace(".", "", 1).lstrip("-").isdigit()
                book.active.cell(number, column, float(cell) if numeric else cell.lstrip("="))
        stream = io.BytesIO()
        book.save(stream)
        found.append(stream.getvalue())
    return found


def recording(data: bytes) -> None:
    """A recording in the project's own form; written again it reads the same."""
    try:
        first = read_bytes(data, "log.csv", ReadingOptions())
    except LeakdownError:
        return
    _assert_sound(first)
    text = io.StringIO()
    native_write.write(first, text)
    again = read_bytes(text.getvalue().encode(), "log.csv", ReadingOptions())  # never refused
    _assert_same(first, again)
    assert again.direction == first.direction and again.marks == first.marks


def _recording_seeds() -> list[bytes]:
    logs = [b"".join(path.read_bytes().splitlines(keepends=True)[:40]) for path in DATASETS[:7]]
    found = []
    for seed in range(20):
        text = io.StringIO()
        native_write.write(read_bytes(generated_sheet(seed).text.encode(), "sheet.csv"), text)
        found.append(text.getvalue().encode())
    return [*logs, *found]


MOST_ANALYSED = 200


def analysed(data: bytes) -> None:
    """Any sheet that is read: judged, told, and as an object without a number that is none."""
    recording = read_bytes(data[1:], "sheet.csv", _told(data[0] if data else 0))
    if recording.time_s.size > MOST_ANALYSED:
        return
    result = analyse(recording, Settings(limit=(None, "6 kPa in 60 s", "2 psi in 30 s from 10 psi")[len(data) % 3]))
    json.dumps(analysis_object(result), allow_nan=False)
    for told in (terminal_report(result, 88), summary(result, 60)):
        assert told.strip() and "nan" not in told.lower().split() and "inf" not in told.lower().split()
    decay_chart(result)


def runs(data: bytes) -> None:
    """A list of engine runs."""
    found = read_runs(data.decode("utf-8", "replace").splitlines())
    assert all(math.isfinite(run.ran_s) and run.ran_s >= 0.0 for run in found.runs)


# --- gauges --------------------------------------------------------------------------------------------------------


def lines(data: bytes) -> None:
    """What a gauge sends, in pieces: finite readings, times that go on, and a row for every line."""
    session = Session(AUTO, Conversion(PressureUnit("kPa", PRESSURE_PA["kPa"]) if len(data) % 2 else None), 0.0)
    _feed(session, data)


def _feed(session: Session, data: bytes) -> None:
    rows: list[Row] = []
    size = 1 + (data[0] if data else 0)
    for number, at in enumerate(range(0, len(data), size)):
        rows += [event for event in session.feed(data[at : at + size], 0.1 * number) if isinstance(event, Row)]
        if number % 50 == 0:  # as seldom as the disk is written
            session.pending()
    rows += [event for event in (*session.tick(1e3), *session.finish()) if isinstance(event, Row)]
    assert all(a.time_s < b.time_s for a, b in zip(rows, rows[1:], strict=False))
    assert all(row.pressure_pa is None or math.isfinite(row.pressure_pa) for row in rows)
    assert session.readings + session.unreadable == len(rows)
    session.settled()


def _line_seeds() -> list[bytes]:
    streams = ["\n".join(shape(i, 40.0 - 0.1 * i) for i in range(30)) + "\n" for shape in SHAPES.values()]
    return [text.encode("utf-8", "replace") for text in streams]


@cache
def _folder() -> Path:
    """A place for files, as long as this process lasts."""
    keep = tempfile.TemporaryDirectory(prefix="fuzz-")
    _KEPT.append(keep)
    return Path(keep.name)


_KEPT: list[object] = []
_HEARD = b"P12.5 kPa t=100\n12,40.1,22.5\n40123 1000 0 22.1\n\x01\x04\x02\x00\x28\xb9\x2e"


def profile(data: bytes) -> None:
    """A gauge's profile; one that is taken reads lines."""
    path = _folder() / "gauge.toml"
    path.write_bytes(data)
    found = read_profile(path)
    found = replace(found, framing=replace(found.framing))
    _feed(Session(found, found.conversion(PressureUnit("kPa", 1e3), None, None), 0.0), _HEARD)


def _profile_seeds() -> list[bytes]:
    bundled = Path(str(resources.files("leakdown.live.profiles"))).glob("*.toml")
    return [path.read_bytes() for path in sorted(bundled)]


# --- the shop's own files ------------------------------------------------------------------------------------------


def settings(data: bytes) -> None:
    """A settings file: read or refused, and what a change does not mean stays."""
    path = _folder() / "settings.toml"
    path.write_bytes(data)
    found = read_settings(path)
    assert all(text.isprintable() for text in found.warnings)
    assert (found.barometer_pa, found.volume_m3("tank"), found.unit, found.jobs) is not None
    name = NAMES[len(data) % len(NAMES)]
    example = key_of(name).example
    try:
        set_value(name, example, path)
    except LeakdownError:
        assert path.read_bytes() == data
    else:
        assert read_settings(path).text(name) == example


def _settings_seeds() -> list[bytes]:
    whole = "\n".join(f'{name} = "{key_of(name).example}"' for name in NAMES if name != "altitude" and "." not in name)
    dotted = "\n".join(f'{name} = "{key_of(name).example}"' for name in NAMES)
    limits = '[limit.crankcase]\nvacuum = "6 kPa in 60 s" # as the manual\n'
    tables = f'# ours\nunit = "psi"\n\n{limits}\n[volume]\ntank = "1 L"\n'
    return [whole.encode(), dotted.encode(), tables.encode(), tables.replace("\n", "\r\n").encode(), b""]


def complaint(data: bytes) -> None:
    """A customer's words."""
    said = heard.heard(data.decode("utf-8", "replace"))
    suspects.suspects(Answers(seen=said.seen))


def _complaint_seeds() -> list[bytes]:
    return [text.encode() for text, _ in PLAIN[::4]]


_FILES = ("places", "observations", "tests", "suspects", "complaints", "checks", "words")
_CACHED = (shop_knowledge, complaint_knowledge, place_knowledge, heard, stories, test_tables, suspects)


def knowledge(data: bytes) -> None:
    """A shop's lines on top of the tables that came: what is taken can be used."""
    name = _FILES[(data[0] if data else 0) % len(_FILES)]
    folder = _folder() / "knowledge"
    folder.mkdir(exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    (folder / f"{name}.toml").write_bytes(data[1:])
    before = shop_knowledge.own_folder
    _forget()
    try:
        for module in (shop_knowledge, complaint_knowledge, place_knowledge, heard):
            if hasattr(module, "own_folder"):
                module.own_folder = lambda: folder
        place_knowledge.knowledge()
        known = complaint_knowledge.complaint_knowledge()
        said = heard.heard("It dies when hot and the tank is full; idles high, no spark trouble.")
        suspects.suspects(Answers(seen=said.seen), known)
    finally:
        for module in (shop_knowledge, complaint_knowledge, place_knowledge, heard):
            if hasattr(module, "own_folder"):
                module.own_folder = before
        _forget()


def _forget() -> None:
    for module in _CACHED:
        for value in vars(module).values():
            if isinstance(value, type(_NOTHING)):
                value.cache_clear()


@lru_cache(maxsize=1)
def _NOTHING() -> None:
    """Here for its type."""


def _knowledge_seeds() -> list[bytes]:
    found = []
    for number, name in enumerate(_FILES):
        text = resources.files("leakdown.where").joinpath("knowledge", f"{name}.toml").read_bytes()
        paragraphs = text.split(b"\n\n")
        found += [bytes([number]) + b"\n\n".join(paragraphs[i : i + 2]) for i in range(0, min(len(paragraphs), 24), 3)]
    return found


def rig(data: bytes) -> None:
    """A rig's own file."""
    path = _folder() / "rig.json"
    path.write_bytes(data)
    rig_store.load("rig", _folder())


def _rig_seeds() -> list[bytes]:
    leak = {"direction": "pressure", "at_pa": 35e3, "value_pa_m3_s": 1e-4, "low_pa_m3_s": 1e-5, "high_pa_m3_s": 2e-4}
    leak |= {"measured": "2026-03-01", "source": "a.csv"}
    whole = {"version": 1, "name": "rig", "leaks": [leak], "known": [], "volume_m3": 5e-5, "volume_u_m3": 1e-6}
    return [json.dumps(whole).encode(), json.dumps(whole, indent=2).encode()]


# --- jobs ----------------------------------------------------------------------------------------------------------


def job(data: bytes) -> None:
    """A job's record: what is read is told on every page and written back as it stood."""
    found = form.loaded(data, "job.json")
    again = form.loaded(form.dumped(found), "job.json")
    assert again.entries == found.entries and again.engine == found.engine
    listing.csv_text([listing.row_of(found)])
    story.story_of(found)
    page.tests_mark(found)
    page.words_of_page(found, {})
    customer_page.customer_page(found, {})


def _job_seeds() -> list[bytes]:
    whole = form.dumped(full_job())
    return [whole, whole.replace(b'"sealed"', b'"seal"'), form.dumped(replace(full_job(), entries=()))]


def photo(data: bytes) -> None:
    """A photograph."""
    assert photos.plain_jpeg(data, "photo.jpg")[:2] == b"\xff\xd8"


def _photo_seeds() -> list[bytes]:
    from PIL import Image

    found = []
    for number, kind in enumerate(("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")):
        picture = Image.new("RGB", (24 + number, 16), (200, 30 * number, 10))
        stream = io.BytesIO()
        exif = Image.Exif()
        exif[0x0112] = 1 + number
        picture.save(stream, kind, **({"exif": exif} if kind in ("JPEG", "PNG", "WEBP", "TIFF") else {}))
        found.append(stream.getvalue())
    return found


TARGETS: dict[str, Target] = {
    "sheets": Target(sheet, _sheet_seeds),
    "workbooks": Target(workbook, _workbook_seeds),
    "recordings": Target(recording, _recording_seeds),
    "analyses": Target(analysed, _sheet_seeds),
    "runs": Target(runs, lambda: [DATASETS[7].read_bytes(), DATASETS[7].read_bytes().replace(b",", b";")]),
    "lines": Target(lines, _line_seeds),
    "profiles": Target(profile, _profile_seeds),
    "settings": Target(settings, _settings_seeds),
    "knowledge": Target(knowledge, _knowledge_seeds),
    "complaints": Target(complaint, _complaint_seeds),
    "rigs": Target(rig, _rig_seeds),
    "jobs": Target(job, _job_seeds),
    "photos": Target(photo, _photo_seeds),
}
