"""Located and Change -> lines for a terminal: the answer first, then the list, why, and what to do next.

wrap(text, width, first, rest) -> lines, and style(text, role), come from the caller: the words are here,
the screen is not.
"""

from __future__ import annotations

from leakdown.quantities import significant
from leakdown.tuned import tuned
from leakdown.where.located import Change, Group, Located, MarkOutcome, NextTest, SectionShare
from leakdown.where.reasons import mark_words, ratio_words
from leakdown.words.numbers import percent_words, shares_words
from leakdown.words.wrap import Style, Wrap

_REASONS = 3


def located_lines(found: Located, width: int, wrap: Wrap, style: Style) -> list[str]:
    """The whole answer, ten seconds to read."""
    lines = [style(line, "strong") for line in wrap(found.headline, width, "", "")]
    lines += wrap(f"Tests: {verdicts_words(found)}.", width, "", "  ")
    lines += wrap(f"Next: {found.next_test.do} Why: {found.next_test.why}", width, "", "      ")
    if then := entry_words(found.next_test):
        lines += wrap(f"Then say: {then}.", width, "      ", "      ")
    if found.ratio is not None and found.ratio.told:
        lines += wrap(f"{ratio_words(found.ratio).capitalize()}.", width, "", "")
    if found.complaint is not None:
        lines += wrap(f"Counted in from the complaint: {complaint_words(found)}.", width, "", "  ")
    lines += ["", "Where the largest leak is:", *_ranking(found, width, wrap)]
    lines += _titled("Sections", [section_words(s) for s in found.sections], width, wrap)
    lines += _titled("Done during the tests", [mark_sentence(m) for m in found.marks], width, wrap)
    lines += _titled("Ruled out", by_reason(found.ruled_out), width, wrap)
    if found.not_tested:
        lines += ["", *wrap(f"Not tested: {'; '.join(found.not_tested)}.", width, "", "  ")]
    return [*lines, *_titled("Mind", [flag.text for flag in found.warnings], width, wrap)]


def entry_words(step: NextTest) -> str:
    """How the result of a step is given next time."""
    said = [f"--{e.kind.replace('_', '-')} {e.what}" for e in step.enter if e.kind != "file"]
    files = [f"one more file: {e.what}" for e in step.enter if e.kind == "file"]
    return " or ".join((*said, *files))


def verdicts_words(found: Located) -> str:
    """Each test and what it came to."""
    return "; ".join(f"{v.file} {v.word}{' by a lax limit' if v.lax else ''}" for v in found.verdicts)


def change_lines(change: Change, width: int, wrap: Wrap, style: Style) -> list[str]:
    """The answer of compare."""
    lines = [style(line, "strong") for line in wrap(change.sentence, width, "", "")]
    lines += wrap(f"Verdict before: {change.verdict_before}. Verdict after: {change.verdict_after}.", width, "", "")
    return [*lines, *_titled("Mind", [flag.text for flag in change.warnings], width, wrap)]


def shown_groups(found: Located) -> list[Group]:
    """The groups worth a line of their own: the first at least."""
    least = tuned("words").listed_probability
    return [g for g in found.groups if g.probability >= least] or list(found.groups[:1])


def _ranking(found: Located, width: int, wrap: Wrap) -> list[str]:
    """Groups with their likeliest place and the strongest reasons; the rest in one line."""
    lines: list[str] = []
    shown = shown_groups(found)
    for rank, group in enumerate(shown):
        inside = [p for p in found.places if p.group == group.group and p.probability > 0.25 * group.probability]
        names = ""
        if len(inside) > 1:
            names = ": " + ", ".join(f"{p.name} {percent_words(p.probability)}" for p in inside)
        lines += wrap(f"{percent_words(group.probability):>5}  {group.name}{names}", width, "", "       ")
        for reason in group.reasons[: _REASONS if rank < 2 else 1]:
            lines += wrap(reason, width, "         - ", "           ")
    others = sum(g.probability for g in found.groups) - sum(g.probability for g in shown)
    if len(found.groups) > len(shown):
        lines.append(f"{percent_words(others):>5}  everything else")
    return lines


def complaint_words(found: Located) -> str:
    """The answers that were weighed in, in one line; "" when there were none."""
    return "; ".join(answer.words for answer in found.complaint.answers) if found.complaint else ""


def mark_sentence(mark: MarkOutcome) -> str:
    """What the leak did after an action during a test."""
    at = f"{mark.file}, {significant(mark.effect.time_s)} s: " if mark.file else ""
    return f"{at}{mark_words(mark.effect)}."


def by_reason(ruled_out: tuple[tuple[str, str], ...]) -> list[str]:
    """Places that share a reason, in one sentence."""
    reasons = dict.fromkeys(why for _, why in ruled_out)
    return [f"{', '.join(name for name, w in ruled_out if w == why)}: {why}" for why in reasons]


def section_words(section: SectionShare) -> str:
    """One section's share in each direction, or which it cannot be told from."""
    if not section.separable:
        others = ", ".join(section.with_)
        told = "; ".join(f"{shares_words(i)} of the {d} leak together" for d, i in section.together)
        return f"{section.section}: these tests cannot tell it from {others} ({told})"
    return f"{section.section}: " + "; ".join(f"{shares_words(i)} of the {d} leak" for d, i in section.shares)


def _titled(title: str, sentences: list[str], width: int, wrap: Wrap) -> list[str]:
    body = [line for sentence in sentences for line in wrap(sentence, width, "  - ", "    ")]
    return ["", f"{title}:", *body] if body else []
