"""All jobs at once: a row each, searched and shown; a small index spares reading every record every time."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import sys
import threading
from collections.abc import Iterable, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, fields
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from leakdown.disk import read_plain, write_whole
from leakdown.errors import LeakdownError, RecordError, UsageError
from leakdown.jobs.job_verdict import job_verdict, mechanics_verdict, places_named, places_said
from leakdown.jobs.record import VERDICTS, Job
from leakdown.jobs.store import RECORD, job_names, load
from leakdown.words.wrap import clean


@dataclass(frozen=True)
class Row:
    """verdict: pass, fail, undecided or "" (nothing tested). said: the mechanic's own, or "".

    places: where the mechanic found the fault ("found"), else where the tests put it ("likely").
    """

    reference: str
    opened: str
    last: str
    engine: str
    serial: str
    hours: str
    complaint: str
    places: str
    verdict: str
    said: str
    found: str  # "found", "likely" or "" without a place
    tests: int


COLUMNS = tuple(f.name for f in fields(Row))
_TYPES = [str] * (len(COLUMNS) - 1) + [int]


def row_of(job: Job) -> Row:
    """The row of a job."""
    verdict, said = job_verdict(job), mechanics_verdict(job)
    return Row(
        reference=job.reference,
        opened=job.opened,
        last=max((e.at for e in job.entries), default=job.opened),
        **{name: getattr(job.current, name) for name in ("engine", "serial", "hours", "complaint")},
        places="; ".join(places_named(job)),
        verdict=verdict.word if verdict.circuits else "",
        said=said.verdict if said else "",
        found="found" if places_said(job) else "likely" if places_named(job) else "",
        tests=len(job.counted),
    )


def row_object(row: Row) -> Mapping[str, Any]:
    """The JSON object of `job list --json`."""
    return asdict(row) | {"verdict": row.verdict or None, "said": row.said or None}


@dataclass(frozen=True)
class Wanted:
    """A search. Each text must be found (capitals apart); "" asks nothing. serial: the whole serial.

    verdict: of VERDICTS, or "none" for jobs without a test. Raises UsageError for another.
    """

    words: tuple[str, ...] = ()
    engine: str = ""
    place: str = ""
    verdict: str = ""
    serial: str = ""

    def __post_init__(self) -> None:
        known = (*VERDICTS, "none")
        if self.verdict not in ("", *known):
            raise UsageError(f"--verdict {self.verdict!r} is unknown", remedy=f"Say {', '.join(known)}.")


def found_rows(rows: Iterable[Row], wanted: Wanted) -> list[Row]:
    """The rows that answer a search, the job that was opened last first."""
    found = (row for row in rows if matches(row, wanted))
    return sorted(found, key=lambda row: (row.opened, row.reference), reverse=True)


def matches(row: Row, wanted: Wanted) -> bool:
    """Whether a row answers a search."""
    engine = f"{row.engine} {row.serial}".casefold()
    everything = f"{row.reference} {engine} {row.complaint} {row.places}".casefold()
    return (
        all(word.casefold() in everything for word in wanted.words)
        and wanted.engine.casefold() in engine
        and wanted.place.casefold() in row.places.casefold()
        and wanted.verdict in ("", row.verdict or "none")
        and wanted.serial.casefold().strip() in ("", row.serial.casefold().strip())
    )


_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def harmless(value: object) -> str:
    """A cell's text; one that a spreadsheet would take for a formula is marked as text with an apostrophe.

    Blanks before the sign are looked through, for some programs drop them.
    """
    text = str(value)
    guarded = text.startswith(_FORMULA) or text.lstrip().startswith(_FORMULA)
    plain = clean(text)
    return f"'{plain}" if guarded else plain


def csv_text(rows: Iterable[Row]) -> str:
    """Header and rows; every text quoted."""
    stream = io.StringIO()
    writer = csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(map(harmless, vars(row).values()) for row in rows)
    return stream.getvalue()


INDEX = ".leakdown-index.json"
_LARGEST = 200_000_000
_FORM = [2, *COLUMNS]  # another set of columns makes an old index unusable
Stamp = list[int]


@dataclass(frozen=True)
class Listing:
    """Rows by reference, and the records that could not be read, in words."""

    rows: tuple[Row, ...]
    troubles: tuple[LeakdownError, ...]


def listing(root: Path) -> Listing:
    """Every job in `root`. Raises RecordError when `root` itself cannot be read."""
    known, top = _remembered(root / INDEX), str(root)
    rows: dict[str, tuple[Stamp, Row]] = {}
    fresh: dict[str, Stamp] = {}
    troubles: list[LeakdownError] = []
    for name in job_names(root):
        record = os.path.join(top, name, RECORD)  # ten thousand Path objects are a tenth of the time
        stamp = _stamp(record)
        if stamp is None:
            if os.path.lexists(record):
                troubles.append(RecordError("is not a plain file", where=record))
            continue  # a folder without a record is no job
        if name in known and known[name][0] == stamp:
            rows[name] = known[name]
        else:
            fresh[name] = stamp
    for name, found in zip(fresh, _read_all(root, list(fresh)), strict=True):
        if isinstance(found, Row):
            rows[name] = (fresh[name], found)
        else:
            troubles.append(found)
    rows = dict(sorted(rows.items()))
    if rows != known:
        _remember(root / INDEX, rows)
    return Listing(tuple(row for _, row in rows.values()), tuple(troubles))


_MANY = 1000  # records from which more processes are quicker than one


def _read_all(root: Path, names: list[str]) -> list[Row | LeakdownError]:
    """A row, or why there is none, of each record in order; on all cores where there are many and forking is cheap."""
    cores = os.cpu_count() or 1
    if len(names) < _MANY or cores < 2 or sys.platform != "linux" or threading.active_count() > 1:
        return [_read_one(root, name) for name in names]
    with ProcessPoolExecutor(cores, mp_context=get_context("fork")) as pool:
        return list(pool.map(partial(_read_one, root), names, chunksize=len(names) // (4 * cores)))


def _read_one(root: Path, name: str) -> Row | LeakdownError:
    try:
        return row_of(load(root / name))
    except LeakdownError as error:
        return error


def _stamp(path: str) -> Stamp | None:
    try:
        about = os.lstat(path)
    except OSError:
        return None
    if about.st_mode & 0o170000 != 0o100000:
        return None
    return [about.st_ino, about.st_size, about.st_mtime_ns]


def _remembered(path: Path) -> dict[str, tuple[Stamp, Row]]:
    try:
        value = json.loads(read_plain(path, _LARGEST))
        rows = value["jobs"].items() if value["form"] == _FORM else ()
        return {name: (stamp, Row(*row)) for name, (stamp, row) in rows if [type(v) for v in row] == _TYPES}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError, LeakdownError):
        return {}


def _remember(path: Path, rows: dict[str, tuple[Stamp, Row]]) -> None:
    jobs = {name: [stamp, list(vars(row).values())] for name, (stamp, row) in rows.items()}
    text = json.dumps({"form": _FORM, "jobs": jobs}, ensure_ascii=False, separators=(",", ":"))
    with contextlib.suppress(LeakdownError):
        write_whole(path, text.encode("utf-8"))
