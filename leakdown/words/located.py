"""Located and Change -> lines for a terminal: the answer first, then the list, why, and what to do next.

wrap(text, width, first, rest) -> lines, and style(text, role), come from the caller: the words are here,
the screen is not.
"""

from __future__ import annotations

from pathlib import PureWindowsPath

from leakdown.quantities import significant
from leakdown.tuned import tuned
from leakdown.where.located import Change, Group, Located, MarkOutcome, NextTest, SectionShare
from leakdown.where.reasons import mark_words, ratio_words
from leakdown.words.numbers import percent_words, shares_words
from leakdown.words.wrap import Style, Wrap

_REASONS = 3
_SCREEN = 20  # lines: a terminal's 24, less the command, the prompt and the reader's remarks


def located_lines(found: Located, width: int, wrap: Wrap, style: Style) -> list[str]:
    """The answer and the next step on one screen of 80x24; what does not fit is counted (`all_lines` has it)."""
    head, tail = _head(found, width, wrap, style), ["", *_next(found, width, wrap, style)]
    ranking = [line for group in shown_groups(found) for line in wrap(_group_words(found, group), width, "", "       ")]
    lines, left = [*head, *ranking], 0
    for block in _beside(found, width, wrap):
        if len(lines) + len(block) + 1 + len(tail) <= _SCREEN:
            lines += block
        else:
            left += 1
    counted = f"{left} more remarks, and all reasons" if left > 1 else "All reasons"
    return [*lines, *wrap(f"{counted}: --verbose or --report.", width, "", "  "), *tail]


def all_lines(found: Located, width: int, wrap: Wrap, style: Style) -> list[str]:
    """The whole answer, with every reason; the next step last."""
    lines = _head(found, width, wrap, style)
    if found.complaint is not None:
        lines += wrap(f"Counted in from the complaint: {complaint_words(found)}.", width, "", "  ")
    lines += ["", "Where the largest leak is:", *_ranking(found, width, wrap)]
    lines += _titled("Sections", [section_words(s) for s in found.sections], width, wrap)
    lines += _titled("Done during the tests", [mark_sentence(m) for m in found.marks], width, wrap)
    lines += _titled("Ruled out", by_reason(found.ruled_out), width, wrap)
    if found.not_tested:
        lines += ["", *wrap(f"Not tested: {'; '.join(found.not_tested)}.", width, "", "  ")]
    lines += _titled("Mind", [flag.text for flag in found.warnings], width, wrap)
    return [*lines, "", *_next(found, width, wrap, style)]


def _head(found: Located, width: int, wrap: Wrap, style: Style) -> list[str]:
    lines = [style(line, "strong") for line in wrap(found.headline, width, "", "")]
    lines += wrap(f"Tests: {verdicts_words(found)}.", width, "", "  ")
    if found.ratio is not None and found.ratio.told:
        lines += wrap(f"{ratio_words(found.ratio).capitalize()}.", width, "", "  ")
    return lines


def _next(found: Located, width: int, wrap: Wrap, style: Style) -> list[str]:
    step = found.next_test
    lines = wrap(f"Next: {step.do}", width, "", "      ")
    lines[0] = lines[0].replace("Next:", style("Next:", "strong"), 1)
    lines += wrap(f"Why: {step.why}", width, "      ", "      ")
    if then := entry_words(step):
        lines += wrap(f"Then say: {then}.", width, "      ", "      ")
    return lines


def _beside(found: Located, width: int, wrap: Wrap) -> list[list[str]]:
    """What else there is to say, each its lines, in the order of what it weighs."""
    complaint = f"Counted in from the complaint: {complaint_words(found)}." if found.complaint is not None else ""
    reasons = [f"{g.name}: {g.reasons[0]}" for g in found.groups[:1] if g.reasons]
    asked = [flag.text for flag in found.warnings if flag.code.startswith("ask-")]
    told = [flag.text for flag in found.warnings if not flag.code.startswith("ask-")]
    sections = [section_words(s) for s in found.sections]
    marks = [mark_sentence(m) for m in found.marks]
    sentences = (*told, *sections, *marks, *asked[:1], complaint, *reasons, *asked[1:])
    return [wrap(sentence, width, "- ", "  ") for sentence in sentences if sentence]


def entry_words(step: NextTest) -> str:
    """How the result of a step is given next time: "--seen grease-drive, --not-seen grease-drive"."""
    seen = [e.what for e in step.enter if e.kind == "seen"]
    absent = [e.what for e in step.enter if e.kind == "not_seen"]
    files = [f"one more file: {e.what}" for e in step.enter if e.kind == "file"]
    one = f"--seen with what showed ({', '.join(seen)})" if len(seen) > 2 else " or ".join(f"--seen {i}" for i in seen)
    return " or ".join((*([one] if one else []), *(f"--not-seen {i}" for i in absent), *files))


def verdicts_words(found: Located) -> str:
    """Each test and what it came to."""
    return "; ".join(
        f"{PureWindowsPath(v.file).name} {v.word}{' by a lax limit' if v.lax else ''}" for v in found.verdicts
    )


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
        lines += wrap(_group_words(found, group), width, "", "       ")
        for reason in group.reasons[: _REASONS if rank < 2 else 1]:
            lines += wrap(reason, width, "         - ", "           ")
    others = sum(g.probability for g in found.groups) - sum(g.probability for g in shown)
    if len(found.groups) > len(shown):
        lines.append(f"{percent_words(others):>5}  everything else")
    return lines


def _group_words(found: Located, group: Group) -> str:
    """One group and its likeliest places: " 79 %  shaft seal: flywheel side 40 %, drive side 39 %"."""
    inside = [p for p in found.places if p.group == group.group and p.probability > 0.25 * group.probability]
    names = ": " + ", ".join(f"{p.name} {percent_words(p.probability)}" for p in inside) if len(inside) > 1 else ""
    return f"{percent_words(group.probability):>5}  {group.name}{names}"


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
