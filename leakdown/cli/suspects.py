"""`leakdown suspects`: from the complaint to what is worth checking first, leak or not."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, say, style_for, width
from leakdown.cli.help_text import job_references, observation_ids
from leakdown.cli.job_options import Folder
from leakdown.cli.results import tell
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.where.answers import Answers
    from leakdown.where.suspects import Triage


def say_understood(complaint: str | None, silent: bool) -> None:
    """Tell the user what of the complaint's words was understood, and what was not."""
    if silent or not complaint:
        return
    from leakdown.where.complaint_knowledge import complaint_knowledge
    from leakdown.where.heard import heard
    from leakdown.words.wrap import clean

    found = heard(complaint)
    for one in found.taken:
        says = complaint_knowledge().complaints[one.id].says
        say(f"understood: {says} ({one.id}), from {clean(one.words)!r}")
    if found.left_over:
        left = clean("; ".join(found.left_over))
        say(f"not understood: {left} (--observations lists what is)")


_KINDS = {"bench": "Seen or done at the bench:", "complaint": "From the complaint (leakdown suspects asks):"}


def list_observations(rows: Iterable[tuple[str, ...]], as_json: bool) -> None:
    """Print rows of id, text and, where there are kinds, the kind; one heading a kind."""
    last = ""
    for identity, words, *kind in rows:
        if as_json:
            print_json({"id": identity, "text": words} | ({"kind": kind[0]} if kind else {}))
            continue
        if kind and kind[0] != last:
            out(("\n" if last else "") + _KINDS[kind[0]])
            last = kind[0]
        out(f"{'  ' if kind else ''}{identity:<24}{words}")


FOUND = "What was found"  # a panel of the help text
_JOB = "Add to what this job's record says, and keep the answer there."
ComplaintText = Annotated[
    str | None,
    typer.Argument(help="The complaint in words, between quotes; what was understood is said.", show_default=False),
]
_ID: dict[str, Any] = {"metavar": "ID", "autocompletion": observation_ids}
Seen = Annotated[list[str] | None, o.option("--seen", "Something that was seen (repeat).", FOUND, **_ID)]
NotSeen = Annotated[list[str] | None, o.option("--not-seen", "Looked for and not seen (repeat).", FOUND, **_ID)]
Observations = Annotated[bool, o.option("--observations", "List the ids for --seen and --not-seen.", FOUND)]
Ask = Annotated[bool, o.option("--ask", "Be asked, most telling question first.", FOUND)]
JobReference = Annotated[
    str | None, o.option("--job", _JOB, "Job record", metavar="REF", autocompletion=job_references)
]


def register(app: typer.Typer) -> None:
    """Add the command."""
    example = 'leakdown suspects "dies within a minute, worse below half a tank"'
    app.command("suspects", epilog=f"Example: {example}")(suspects)


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
    from leakdown.where.answers import answers_with_words, checked_for_suspects
    from leakdown.where.complaint_knowledge import complaint_knowledge
    from leakdown.where.heard import heard
    from leakdown.where.suspects import questions
    from leakdown.where.suspects import suspects as ranked
    from leakdown.words.suspects import heard_object, triage_lines, triage_object
    from leakdown.words.wrap import wrapped

    if observations:
        rows = [(row.id, row.ask) for row in complaint_knowledge().complaints.values()]
        return list_observations(rows, as_json)
    silent = quiet or as_json
    say_understood(complaint, silent)
    answers = checked_for_suspects(answers_with_words(complaint or "", seen or (), not_seen or ()))
    if job:
        answers = _with_record(answers, folder, job)
    words = heard(complaint or "")
    open_ = questions(words.ask, answers)
    if ask:
        answers = _asked(answers)
    elif complaint and not silent and _on_terminal():
        answers, open_ = _asked_these(open_, answers), ()
    found = ranked(answers)
    entry = _filed(folder, job, complaint or "", answers, found, silent) if job else None
    if as_json:
        said = heard_object(words, open_) | {"seen": list(answers.seen), "not_seen": list(answers.not_seen)}
        print_json(triage_object(found) | said | ({} if entry is None else {"entry": entry}))
        return
    out("\n".join(triage_lines(found, width(), wrapped, style_for(sys.stdout))))
    for identity in open_ if not quiet and (complaint or not answers.all()) else ():
        ask_for = complaint_knowledge().complaints[identity].ask
        say(f"Worth asking: {ask_for} --seen {identity}, or --not-seen {identity}")
    if answers.all() and entry is None and not quiet:
        ids = " ".join(f"{'--seen' if was else '--not-seen'} {i}" for i, was in answers.all())
        say(f"For where a leak is: leakdown locate PRESSURE VACUUM {ids}")


def _with_record(answers: Answers, folder: Path, job: str) -> Answers:
    """These answers on top of those in the record. Raises RecordError."""
    from leakdown.jobs.complaint_answers import complaint_answers
    from leakdown.jobs.store import folder_of, load

    return complaint_answers(load(folder_of(folder, job)), answers.seen, answers.not_seen)


def _filed(folder: Path, job: str, text: str, answers: Answers, found: Triage, silent: bool) -> int:
    """Number of the entry in the record, whose page is written anew."""
    from leakdown.cli.job_options import refreshed
    from leakdown.jobs.complaint_answers import add_suspects
    from leakdown.jobs.store import writing

    with writing(folder, job) as at:
        entry = add_suspects(at, text, answers, found)
        refreshed(at, silent)
    tell(f"{job}: suspects {entry.number} added; later tests of this job count them in", silent)
    return entry.number


def _on_terminal() -> bool:
    return sys.stdin.isatty() and sys.stderr.isatty()


def _asked_these(open_: Iterable[str], answers: Answers) -> Answers:
    """Ask what the complaint's words only half said; Enter passes over a question."""
    from leakdown.where.complaint_knowledge import complaint_knowledge

    for identity in open_:
        reply = input(f"{complaint_knowledge().complaints[identity].ask} [y/n, Enter: not known] ").strip().lower()
        if reply in ("y", "yes", "n", "no"):
            answers = answers.and_(identity, reply[0] == "y")
    return answers


def _asked(answers: Answers) -> Answers:
    """Ask until nothing is worth asking or the user has had enough. Raises UsageError without a terminal."""
    if not _on_terminal():
        raise UsageError("--ask needs a terminal", remedy="Give --seen and --not-seen instead.")
    from leakdown.where.complaint_knowledge import complaint_knowledge
    from leakdown.where.suspects import next_question

    known, skipped = complaint_knowledge(), set[str]()
    while question := next_question(answers, known, frozenset(skipped)):
        reply = input(f"{question.ask} [y/n/?/end] ").strip().lower()
        if reply in ("end", "e", "q"):
            break
        if reply in ("y", "yes", "n", "no"):
            answers = answers.and_(question.id, reply[0] == "y")
        else:
            skipped.add(question.id)
    return answers
