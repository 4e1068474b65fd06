"""`leakdown job`: one folder a job, from complaint to verdict."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import job_add, job_lists, job_run
from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, say, style_for, width
from leakdown.cli.help_text import intakes, observation_ids
from leakdown.cli.help_text import seal_lips as lips_facing
from leakdown.cli.job_options import Folder, Reference, attached, refreshed
from leakdown.cli.pages import show_page
from leakdown.cli.suspects import say_understood

_KIND = "What kind of note"
_CORRECTS = "An entry's number, or engine, serial, hours, fuel-mix, complaint ... that TEXT puts right."
_WITHDRAWS = "Test (or suspects) N shall not count; TEXT says why."
_INTAKES = "piston-port, reed, rotary, stratified or unknown."
_LIPS = "Which way the lips face: in, out, twin or unknown."
_SEEN = "Something that was seen (repeat); leakdown locate --observations."
Corrects = Annotated[str | None, o.option("--corrects", _CORRECTS, _KIND, metavar="WHAT")]
Withdraws = Annotated[int | None, o.option("--withdraws", _WITHDRAWS, _KIND, metavar="N")]
SeenIds = Annotated[list[str] | None, o.option("--seen", _SEEN, metavar="ID", autocompletion=observation_ids)]
_NOT_SEEN = "Looked for and not seen (repeat)."
NotSeenIds = Annotated[
    list[str] | None, o.option("--not-seen", _NOT_SEEN, metavar="ID", autocompletion=observation_ids)
]


def register(app: typer.Typer) -> None:
    """Add the group with its commands."""
    group = typer.Typer(
        name="job",
        help="Job records: complaint, tests, finding, repair, re-test, verdict, in a folder of plain files.",
        no_args_is_help=True,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    group.command("new", epilog='Example: leakdown job new 2026-017 --engine "water pump 40 cm3"')(new)
    job_add.register(group)
    example = 'Example: leakdown job note 2026-017 "new seal, flywheel side" --repair'
    group.command("note", epilog=example)(note)
    group.command("photo", epilog='Example: leakdown job photo 2026-017 seal.jpg --at "flywheel side"')(photo)
    job_run.register(group)
    group.command("show")(show)
    job_lists.register(group)
    group.command("report")(report)
    group.command("check")(check)
    group.command("export", epilog="Example: leakdown job export 2026-017 2026-017.zip")(export)
    app.add_typer(group)


def new(
    reference: Reference,
    engine: Annotated[str, o.option("--engine", "Maker and model.")] = "",
    serial: Annotated[str, o.option("--serial", "Serial number.")] = "",
    hours: Annotated[str, o.option("--hours", "Running hours.")] = "",
    fuel_mix: Annotated[str, o.option("--fuel-mix", 'Such as "1:50".')] = "",
    intake: Annotated[str, o.option("--intake", _INTAKES, autocompletion=intakes)] = "unknown",
    seal_lips: Annotated[str, o.option("--seal-lips", _LIPS, autocompletion=lips_facing)] = "unknown",
    complaint: Annotated[str, o.option("--complaint", "In the customer's words.")] = "",
    changed: Annotated[list[str] | None, o.option("--changed", "A part already changed (repeat).")] = None,
    folder: Folder = Path("jobs"),
    quiet: o.Quiet = False,
) -> None:
    """Open a job."""
    from leakdown.jobs.adding import checked_engine
    from leakdown.jobs.record import Engine
    from leakdown.jobs.store import create

    head = Engine(engine, serial, hours, fuel_mix, intake, seal_lips, complaint, tuple(changed or ()))
    job = create(folder, reference, checked_engine(head))
    if not quiet:
        say_understood(complaint, quiet)
        first = f'leakdown suspects --job "{job.reference}", then ' if job.engine.understood else ""
        say(f'{folder / job.reference} made. Next: {first}leakdown job add "{job.reference}" RECORDING.csv')


def note(
    reference: Reference,
    text: Annotated[str, typer.Argument(help="What was seen, found or done.", show_default=False)],
    repair: Annotated[bool, o.option("--repair", "It is a repair that was made.", _KIND)] = False,
    verdict: Annotated[str | None, o.option("--verdict", "Your own verdict: pass, fail or undecided.", _KIND)] = None,
    corrects: Corrects = None,
    withdraws: Withdraws = None,
    place: Annotated[str, o.option("--place", "Where the fault was found.", _KIND)] = "",
    seen: SeenIds = None,
    not_seen: NotSeenIds = None,
    folder: Folder = Path("jobs"),
    quiet: o.Quiet = False,
) -> None:
    """Add a note, a repair, a verdict or a correction. What stands in the record stays."""
    from leakdown.jobs.adding import add_note, note_of
    from leakdown.jobs.store import writing

    seen_ids, not_seen_ids = tuple(seen or ()), tuple(not_seen or ())
    entry = note_of(text, repair, verdict, corrects, withdraws, place, seen_ids, not_seen_ids)
    with writing(folder, reference) as at:
        entry = add_note(at, entry)
        if not quiet:
            if entry.kind == "correction" and entry.corrects == "complaint":
                say_understood(entry.text, quiet)
            say(f"{reference}: {entry.kind} {entry.number} added")
        refreshed(at, quiet)


def photo(
    reference: Reference,
    file: Annotated[Path, typer.Argument(help="The picture.", show_default=False)],
    at: Annotated[str, o.option("--at", "Where it was taken: a part or a place.")] = "",
    note: Annotated[str, o.option("--note", "What it shows.")] = "",
    folder: Folder = Path("jobs"),
    quiet: o.Quiet = False,
) -> None:
    """Keep a photograph: made smaller, without what the camera wrote into it (position, owner)."""
    from leakdown.jobs.photos import add_photo
    from leakdown.jobs.store import PHOTOS, received_bytes, writing

    data = received_bytes(file)
    with writing(folder, reference) as job:
        entry = add_photo(job, data, file.name, at, note)
        if not quiet:
            size = f"{entry.recording.size_bytes / 1000:.0f} kB"
            say(f"{reference}: photo {entry.number} kept as {PHOTOS}/{entry.recording.file}, {size}, no metadata")
        refreshed(job, quiet)


def show(reference: Reference, folder: Folder = Path("jobs"), as_json: o.Json = False) -> None:
    """Tell the story of a job, and where it stands."""
    from leakdown.jobs.customer_paragraph import texts_of_people
    from leakdown.jobs.store import folder_of, load
    from leakdown.jobs.terminal import job_lines, job_object

    job = load(folder_of(folder, reference))
    if as_json:
        print_json(job_object(job))
        return
    text = "\n".join(job_lines(job, width(), style_for(sys.stdout)))
    out(text, texts_of_people(job))


def report(
    reference: Reference,
    customer: Annotated[bool, o.option("--customer", "The one sheet for the customer instead.")] = False,
    folder: Folder = Path("jobs"),
    open_page: o.Open = False,
    quiet: o.Quiet = False,
) -> None:
    """Write the job's page and the chart as PNG, PDF and SVG; or the one sheet for the customer."""
    from leakdown.jobs.customer_page import SUMMARY
    from leakdown.jobs.page import REPORT, attach_summary
    from leakdown.jobs.store import writing

    with writing(folder, reference) as at:
        if customer:
            for trouble in attach_summary(at.folder, at.job):
                say(trouble)
        else:
            attached(at.folder, at.job, quiet)
        written = at.folder / (SUMMARY if customer else REPORT)
        print(written)
        show_page(written, open_page)


def check(reference: Reference, folder: Folder = Path("jobs"), as_json: o.Json = False) -> None:
    """Compare every recording with its checksum; exit 1 when one is missing or not the same any more."""
    from leakdown.jobs.check import check as check_folder
    from leakdown.jobs.store import folder_of, load
    from leakdown.words.wrap import clean

    place = folder_of(folder, reference)
    job = load(place)
    found = check_folder(place, job)
    if as_json:
        listed = [asdict(c) for c in found.recordings]
        print_json({"reference": job.reference, "sound": found.sound, "recordings": listed}
                   | {"not_in_record": list(found.strangers), "report_is_old": found.stale}
                   | {"record_changed": found.edited})  # fmt: skip
    else:
        for c in found.recordings:
            out(clean(f"{c.file}: {c.words}"), (c.file,))
        if found.edited:
            out("job.json: NOT as leakdown wrote it: another program or a fault of the disk changed it")
        received = all(c.state == "ok" for c in found.recordings)
        out("All recordings are as received." if received else "NOT as received: see above.")
        for name in found.strangers:
            say(clean(f"{name} lies among the recordings and is not in the record"))
        if found.stale:
            say(f'report.html is older than the record: leakdown job report "{reference}"')
    raise typer.Exit(0 if found.sound else 1)


def export(
    reference: Reference,
    file: Annotated[Path, typer.Argument(help="FILE.zip to write.", show_default=False)],
    folder: Folder = Path("jobs"),
    quiet: o.Quiet = False,
) -> None:
    """Write one zip with record, recordings, page and chart."""
    from leakdown.jobs.check import checked_target
    from leakdown.jobs.check import export as pack
    from leakdown.jobs.store import writing

    with writing(folder, reference) as at:
        checked_target(at.folder, file)
        attached(at.folder, at.job, quiet)
        names = pack(at.folder, at.job, file)
    if not quiet:
        say(f"{file}: {len(names)} files")
