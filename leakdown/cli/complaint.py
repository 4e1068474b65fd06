"""A complaint typed as words, for the commands that take one: what was understood is always said."""

from __future__ import annotations

from leakdown.cli.console import say


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
