"""`leakdown suspects`: from the complaint to what is worth checking first, leak or not."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say, style_for, width
from leakdown.errors import UsageError

if TYPE_CHECKING:
    from leakdown.triage.rank import Answers

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


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "suspects", epilog='Example: leakdown suspects "dies within a minute, worse below half a tank"'
    )(suspects)


def suspects(
    complaint: ComplaintText = None,
    seen: Seen = None,
    not_seen: NotSeen = None,
    observations: Observations = False,
    ask: Ask = False,
    as_json: o.Json = False,
    quiet: o.Quiet = False,
) -> None:
    """Rank what can be wrong, from the complaint and what was seen, and say what to check next."""
    from leakdown.triage.rank import Answers
    from leakdown.triage.show import triage_object
    from leakdown.triage.suspects import suspects as ranked

    if observations:
        _list(as_json)
        return
    words = _from_words(complaint, quiet or as_json)
    answers = Answers(tuple(dict.fromkeys((*words, *(seen or ())))), tuple(dict.fromkeys(not_seen or ())))
    found = ranked(_asked(answers) if ask else answers)
    if as_json:
        print(json.dumps(triage_object(found), allow_nan=False, ensure_ascii=False))
        return
    from leakdown.report.wrap import wrapped
    from leakdown.triage.show import triage_lines

    print("\n".join(triage_lines(found, width(), wrapped, style_for(sys.stdout))))


def _from_words(complaint: str | None, silent: bool) -> tuple[str, ...]:
    """Ids that the complaint's words say; what was understood and what was not goes to the user."""
    if complaint is None:
        return ()
    from leakdown.triage.complaint_words import understood
    from leakdown.triage.knowledge_files import knowledge

    known = knowledge()
    found = understood(complaint, known)
    for identity in () if silent else found.seen:
        say(f"understood: {known.complaints[identity].ask[:-1]}: yes ({identity})")
    if found.left_over and not silent:
        say(f"not used: {'; '.join(found.left_over)} (--observations lists what is understood)")
    return found.seen


def _asked(answers: Answers) -> Answers:
    """Ask until nothing is worth asking or the user has had enough. Raises UsageError without a terminal."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise UsageError("--ask needs a terminal", remedy="Give --seen and --not-seen instead.")
    from leakdown.triage.ask import next_question
    from leakdown.triage.knowledge_files import knowledge
    from leakdown.triage.rank import Answers as Said

    known, skipped = knowledge(), set[str]()
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
    from leakdown.triage.knowledge_files import knowledge

    for row in knowledge().complaints.values():
        line = {"id": row.id, "text": row.ask}
        print(json.dumps(line, ensure_ascii=False) if as_json else f"{row.id:<24}{row.ask}")
