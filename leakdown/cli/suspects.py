"""`leakdown suspects`: from the complaint to what is worth checking first, leak or not."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, say, style_for, width
from leakdown.cli.job_options import Folder
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.where.suspects import Answers, Triage


def ids_in_words(complaint: str | None, silent: bool) -> tuple[str, ...]:
    """Ids that the complaint's words say; what was understood and what was not goes to the user."""
    if not complaint:
        return ()
    from leakdown.where.complaint import understood
    from leakdown.where.complaint_knowledge import complaint_knowledge
    from leakdown.words.wrap import clean

    known = complaint_knowledge()
    found = understood(complaint, known)
    if not silent:
        for identity in found.seen:
            say(f"understood: {known.complaints[identity].says} ({identity})")
        if found.left_over:
            left = clean("; ".join(found.left_over))
            say(f"not used: {left} (--observations lists what is understood)")
    return found.seen


_SAID = "What was found"

ComplaintText = Annotated[
    str | None,
    typer.Argument(
        help="The complaint in words, between quotes; what was understood is said.", show_default=False
    ),
]
Seen = Annotated[
    list[str] | None,
    typer.Option("--seen", metavar="ID", help="Something that is so (repeat).", rich_help_panel=_SAID),
]
NotSeen = Annotated[
    list[str] | None,
    typer.Option("--not-seen", metavar="ID", help="Looked for, and not so (repeat).", rich_help_panel=_SAID),
]
Observations = Annotated[
    bool,
    typer.Option("--observations", help="List the ids for --seen and --not-seen.", rich_help_panel=_SAID),
]
Ask = Annotated[
    bool, typer.Option("--ask", help="Be asked, most telling question first.", rich_help_panel=_SAID)
]

JobReference = Annotated[
    str | None,
    typer.Option(
        "--job",
        metavar="REF",
        help="Add to what this job's record says, and keep the answer there.",
        rich_help_panel="Job record",
    ),
]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "suspects", epilog='Example: leakdown suspects "dies within a minute, worse below half a tank"'
    )(suspects)


@dataclass(frozen=True)
class _Filing:
    """Which job record the answers go into."""

    reference: str
    folder: Path


def suspects(
    complaint: ComplaintText = None,
    seen: Seen = None,
    not_seen: NotSeen = None,
    observations: Observations = False,
    ask: Ask = False,
    job: JobReference = None,
    folder: Folder = Path("jobs"),
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Rank what can be wrong, from the complaint and what was seen, and say what to check next."""
    from leakdown.where.suspects import Answers
    from leakdown.where.suspects import suspects as ranked

    if observations:
        _list(as_json)
        return
    words = [i for i in ids_in_words(complaint, quiet or as_json) if i not in (not_seen or ())]
    answers = Answers(_named((*words, *(seen or ()))), _named(not_seen or ()))
    filing = _Filing(job, folder) if job else None
    if filing:
        answers = _with_record(answers, filing)
    if ask:
        answers = _asked(answers)
    found = ranked(answers)
    entry = _filed(filing, complaint or "", answers, found, quiet or as_json) if filing else None
    _show(found, answers, entry, as_json, quiet)


def _named(ids: Iterable[str]) -> tuple[str, ...]:
    """Each once, by the name that complaints have for it; unknown ones as they are, to be refused."""
    from leakdown.where.complaint import complaint_name
    from leakdown.where.complaint_knowledge import complaint_knowledge

    return tuple(dict.fromkeys(complaint_name(i, complaint_knowledge()) for i in ids))


def _show(found: Triage, answers: Answers, entry: int | None, as_json: bool, quiet: bool) -> None:
    from leakdown.words.suspects import triage_lines, triage_object

    if as_json:
        said = {"seen": list(answers.seen), "not_seen": list(answers.not_seen)}
        line = triage_object(found) | said | ({} if entry is None else {"entry": entry})
        print(json.dumps(line, allow_nan=False, ensure_ascii=False))
        return
    from leakdown.words.wrap import wrapped

    out("\n".join(triage_lines(found, width(), wrapped, style_for(sys.stdout))))
    if answers.all() and entry is None and not quiet:
        ids = [f"--seen {i}" for i in answers.seen] + [f"--not-seen {i}" for i in answers.not_seen]
        say(f"For where a leak is: leakdown locate PRESSURE VACUUM {' '.join(ids)}")


def _with_record(answers: Answers, filing: _Filing) -> Answers:
    """These answers on top of those in the record. Raises UsageError, RecordError."""
    from leakdown.jobs.evidence import answers_with
    from leakdown.jobs.store import folder_of, load
    from leakdown.where.complaint_knowledge import complaint_knowledge
    from leakdown.where.suspects import check_answers

    check_answers(answers, complaint_knowledge())
    return answers_with(load(folder_of(filing.folder, filing.reference)), answers.seen, answers.not_seen)


def _filed(filing: _Filing, text: str, answers: Answers, found: Triage, silent: bool) -> int:
    """Number of the entry in the record, whose page is written anew."""
    from leakdown.cli.job_options import refreshed
    from leakdown.jobs.evidence import add_suspects
    from leakdown.jobs.store import writing

    with writing(filing.folder, filing.reference) as at:
        entry = add_suspects(at, text, answers, found)
        refreshed(at, silent)
    if not silent:
        say(f"{filing.reference}: suspects {entry.number} added; later tests of this job count them in")
    return entry.number


def _asked(answers: Answers) -> Answers:
    """Ask until nothing is worth asking or the user has had enough. Raises UsageError without a terminal."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise UsageError("--ask needs a terminal", remedy="Give --seen and --not-seen instead.")
    from leakdown.where.complaint_knowledge import complaint_knowledge
    from leakdown.where.suspects import Answers as Said
    from leakdown.where.suspects import next_question

    known, skipped = complaint_knowledge(), set[str]()
    while question := next_question(answers, known, frozenset(skipped)):
        reply = input(f"{question.ask} [y/n/?/end] ").strip().lower()
        if reply in ("end", "e", "q"):
            break
        if reply in ("y", "yes"):
            answers = Said((*answers.seen, question.id), answers.not_seen)
        elif reply in ("n", "no"):
            answers = Said(answers.seen, (*answers.not_seen, question.id))
        else:
            skipped.add(question.id)
    return answers


def _list(as_json: bool) -> None:
    from leakdown.where.complaint_knowledge import complaint_knowledge

    for row in complaint_knowledge().complaints.values():
        line = {"id": row.id, "text": row.ask}
        print(json.dumps(line, ensure_ascii=False) if as_json else f"{row.id:<24}{row.ask}")
