"""What a complaint's words say, and what they only half say: precision first.

A claim is taken where each half of it is said, word by word, and nothing there denies it, is over, is asked or
supposed, or is of another machine. What is half said, or barred like that, is worth a question.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from leakdown.knowledge import knowledge_table, misstated, own_folder, read_rows
from leakdown.where.complaint_knowledge import ComplaintKnowledge, KnownComplaint, complaint_knowledge
from leakdown.where.phrases import Clause, Element, Half, Hit, Vocabulary, clauses, vocabulary

MOST_ASKED = 3
_SHORT = 8
"""Words of a sentence that only says what became of the one before it."""


@dataclass(frozen=True)
class Taken:
    """An observation that the text states, and the words that state it."""

    id: str
    words: str


@dataclass(frozen=True)
class Heard:
    """What was taken, the ids worth asking (three at most), and the parts from which nothing was taken."""

    taken: tuple[Taken, ...] = ()
    ask: tuple[str, ...] = ()
    left_over: tuple[str, ...] = ()

    @property
    def seen(self) -> tuple[str, ...]:
        """Ids that were taken."""
        return tuple(one.id for one in self.taken)


@dataclass(frozen=True)
class _Said:
    """One way to say a claim, found: the clauses it stands in, and how far it is said (1: wholly)."""

    at: tuple[int, ...]
    words: str
    share: float


@dataclass(frozen=True)
class _Language:
    """The vocabulary, the ways to say each claim, and the ways to say that something is barred."""

    words: Vocabulary
    ways: Mapping[str, tuple[tuple[tuple[Half, bool], ...], ...]]
    bars: Mapping[str, tuple[Half, ...]]


def heard(text: str) -> Heard:
    """What the text says. Raises InputError for a shop's own words that cannot be read."""
    known, language = complaint_knowledge(), _language(own_folder())
    said = clauses(text)
    if not said:
        return Heard()
    barred = _barred(said, language)
    taken, half = [], {}
    used: set[int] = set()
    for complaint in known.complaints.values():
        ways = [found for way in language.ways[complaint.id] for found in _found(way, said)]
        whole = [way for way in ways if way.share >= 1.0]
        clear = next((way for way in whole if not _kept(complaint, way, barred, said)), None)
        if clear is not None:
            taken.append((clear.at, Taken(complaint.id, clear.words)))
            used |= set(clear.at)
        elif ways:
            half[complaint.id] = max(way.share for way in ways)
    ids = {one.id for _, one in taken}
    ask = [i for i in sorted(half, key=lambda i: -half[i]) if _worth_asking(i, half[i], ids, known)]
    left = [c.text for k, c in enumerate(said) if k not in used]
    return Heard(tuple(one for _, one in sorted(taken, key=lambda t: t[0])), tuple(ask[:MOST_ASKED]), tuple(left))


def groups_said(text: str, names: Sequence[str]) -> tuple[str, ...]:
    """Those of these groups of words.toml that the text says, in a clause that nothing keeps from being taken.

    Raises InputError for a shop's own words that cannot be read, KeyError for a group that is not there.
    """
    language = _language(own_folder())
    said = clauses(text)
    barred = _barred(said, language)
    halves = {name: _says(name, language.words) for name in names}
    return tuple(
        name for name in names if any(halves[name].hits(c) for c, bar in zip(said, barred, strict=True) if not bar)
    )


def _worth_asking(identity: str, share: float, taken: set[str], known: ComplaintKnowledge) -> bool:
    cluster = known.complaints[identity].cluster
    return share >= 0.5 and not any(known.complaints[i].cluster == cluster for i in taken)


@dataclass(frozen=True)
class _Group:
    """A row of words.toml. bars: what a clause is kept from that says one of its forms."""

    name: str
    forms: tuple[str, ...]
    bars: str = ""


@lru_cache(maxsize=4)
def _language(_folder: Path) -> _Language:
    table = read_rows(_Group, "words.toml", knowledge_table("leakdown.where", "words.toml"))
    words = vocabulary({name: row.forms for name, row in table.items()})
    bars: dict[str, list[Half]] = {}
    for name, row in table.items():
        if row.bars:
            bars.setdefault(row.bars, []).append(_says(name, words))
    ways = {c.id: tuple(_way(c, text, words) for text in c.words) for c in complaint_knowledge().complaints.values()}
    return _Language(words, ways, {kind: tuple(halves) for kind, halves in bars.items()})


def _says(name: str, words: Vocabulary) -> Half:
    """One of the forms of a group, alone."""
    return Half((Element(words[name], 0),), False)


def _way(complaint: KnownComplaint, text: str, words: Vocabulary) -> tuple[tuple[Half, bool], ...]:
    """Halves, and whether each may stand in the next clause or the one before."""
    found = []
    for k, linked in enumerate(text.split(" & ")):
        for half in linked.split(" + "):
            try:
                found.append((Half.of(half.strip(), words), k > 0))
            except KeyError as error:
                problem = f"names {error}, which is not in words.toml"
                raise misstated("complaints.toml", f"{complaint.id}.words", problem) from None
    return tuple(found)


def _found(way: Sequence[tuple[Half, bool]], said: Sequence[Clause]) -> list[_Said]:
    """Where it is said, wholly or in part."""
    (first, _), *rest = way
    found = []
    for k, clause in enumerate(said):
        hits = first.hits(clause)
        if not hits:
            continue
        at, words, missing = [k], [_text(clause, hits[0])], 0
        for half, linked in rest:
            other = _where(half, linked, k, said, range(hits[0].start, hits[0].stop))
            if other is None:
                missing += 1
            else:
                at.append(other[0])
                words.append(_text(said[other[0]], other[1]))
        share = 1.0 - missing / len(way)
        found.append(_Said(tuple(sorted(set(at))), " ... ".join(dict.fromkeys(words)), share))
    return found


def _where(half: Half, linked: bool, k: int, said: Sequence[Clause], own: range) -> tuple[int, Hit] | None:
    """The clause near clause k that says a half, and where; own: the words of clause k that said the first half."""
    near = [k] + ([k + 1, k - 1] if linked else [])
    for j in near:
        if 0 <= j < len(said) and abs(said[j].sentence - said[k].sentence) <= (1 if j > k else 0):
            hits = half.hits(said[j], own if j == k else ())
            if hits:
                return j, hits[0]
    return None


def _text(clause: Clause, hit: Hit) -> str:
    return " ".join(word.written for word in clause.words[hit.start : hit.stop])


def _barred(said: Sequence[Clause], language: _Language) -> list[frozenset[str]]:
    """What keeps each clause from being taken as it stands."""
    found: list[frozenset[str]] = []
    whole: dict[int, set[str]] = {}
    for clause in said:
        kinds = {kind for kind, halves in language.bars.items() if any(half.hits(clause) for half in halves)}
        kinds -= {"still", "cured"} if "still" in kinds else set()
        kinds |= {"doubt"} if clause.asked else set()
        whole.setdefault(clause.sentence, set()).update(kinds & {"other", "doubt"})  # for the whole sentence
        found.append(frozenset(kinds))
    return [kinds | whole[clause.sentence] for clause, kinds in zip(said, found, strict=True)]


def _kept(complaint: KnownComplaint, way: _Said, barred: Sequence[frozenset[str]], said: Sequence[Clause]) -> bool:
    """Whether something keeps the claim from being taken as it stands."""
    kept = set().union(*(barred[k] for k in way.at))
    after = way.at[-1] + 1
    if after < len(said):
        if len(said[after].words) <= _SHORT:  # "it flooded. Fixed with a new needle."
            kept |= barred[after] & {"cured"}
        if said[after].sentence == said[after - 1].sentence:  # "with the cap open, no difference"
            kept |= barred[after] & {"nothing"}
    allowed = {"cured"} if complaint.past else set()
    allowed |= {"nothing"} if complaint.unmoved else set()
    return bool(kept - allowed)
