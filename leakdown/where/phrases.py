"""A complaint's words as stems in clauses, and phrases that can be looked for in them, each with whether it is denied.

Words are compared by their stems (the Porter2 stemmer of snowballstemmer), so every grammatical form counts and no
part of a longer word does.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import snowballstemmer

_STEMMER = snowballstemmer.stemmer("english")
_SENTENCES = re.compile(r"[.!\n]+(?=\s|$)|\?")
_CLAUSES = re.compile(r"[,;:()]|\s[-–—]+\s|\b(?:but|however|although|though|except|unless|because|whereas|while|yet)\b")
_UNLESS = re.compile(
    r"\b(?:(?:will|does|do|did|would|can|could)(?: not|n't)|won't|cannot|can't) ((?:\w+ ){1,3}?)(?:unless|until)\b",
    re.IGNORECASE,
)
"""Not ... unless: only when."""
_WORD = re.compile(r"[^\W_]+(?:'[^\W_]+)?", re.UNICODE)
_YES_OR_NO = re.compile(r"\W*(?:is|are|could|can|do|does|should|would|might|may|will|has|have|check)\b", re.IGNORECASE)
_CONTRACTIONS = {
    "can't": "can not", "cannot": "can not", "cant": "can not", "won't": "will not", "wont": "will not",
    "dont": "do not", "doesnt": "does not", "didnt": "did not", "isnt": "is not", "wasnt": "was not",
    "arent": "are not", "havent": "have not", "hasnt": "has not", "aint": "is not", "ain't": "is not",
    "wouldnt": "would not", "couldnt": "could not", "gonna": "going to", "i've": "i have", "it's": "it is",
    "that's": "that is", "there's": "there is", "i'm": "i am", "they're": "they are",
}  # fmt: skip
_COUNTED = """one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen"""
_NUMBERS = {word: str(k) for k, word in enumerate(_COUNTED.split(), 1)}
_NUMBERS |= {"twenty": "20", "thirty": "30", "forty": "40", "fifty": "50", "sixty": "60"}
_IRREGULAR = {
    "sat": "sit", "stood": "stand", "fell": "fall", "fallen": "fall", "came": "come", "lost": "lose", "ran": "run",
    "went": "go", "began": "begin", "took": "take", "taken": "take", "kept": "keep", "hung": "hang", "got": "get",
    "found": "find", "had": "have", "has": "have", "tore": "tear", "torn": "tear", "froze": "freeze", "made": "make",
    "blew": "blow", "drew": "draw", "drank": "drink", "held": "hold", "rose": "rise", "thought": "think",
}  # fmt: skip
"""Forms that a stemmer leaves apart."""
_NOT = frozenset(("not", "no", "never", "without", "neither", "nor", "hardly", "zero", "nothing", "none"))
_REACH, _GAP, _BEGIN = 4, 4, 3
"""How many words after a "not" it denies, how many may stand between the words of one half, and how many words are the
beginning of a clause."""


@dataclass(frozen=True)
class Word:
    """One word: its stem, how it was written, and whether it denies."""

    stem: str
    written: str

    @property
    def denies(self) -> bool:
        return self.written in _NOT


@dataclass(frozen=True)
class Clause:
    """The words of one clause, its own text, and the number of its sentence."""

    words: tuple[Word, ...]
    text: str
    sentence: int
    asked: bool


@dataclass(frozen=True)
class Hit:
    """Words start..stop (excluded) of a clause that say a phrase. denied: by a "not" that is no part of the phrase."""

    start: int
    stop: int
    denied: bool


def clauses(text: str) -> tuple[Clause, ...]:
    """The text in clauses; a sentence that begins as a yes/no question is `asked`."""
    text = _UNLESS.sub(r"only \1when", text.replace("’", "'"))
    found: list[Clause] = []
    begin = 0
    for number, end in enumerate([*_SENTENCES.finditer(text), None]):
        sentence = text[begin : end.start() if end else len(text)]
        begin = end.end() if end else len(text)
        asked = bool(end and end.group() == "?" and _YES_OR_NO.match(sentence))
        for part in _CLAUSES.split(sentence):
            words = tuple(_words(part))
            if words:
                found.append(Clause(words, " ".join(part.split()), number, asked))
    return tuple(found)


def _words(text: str) -> Iterator[Word]:
    for match in _WORD.finditer(text.lower()):
        whole = _CONTRACTIONS.get(match.group(), match.group())
        if whole.endswith("n't"):
            whole = f"{whole[:-3]} not"
        for word in whole.removesuffix("'s").split():
            plain = _NUMBERS.get(word, word)
            yield Word(stem(plain), plain)


@lru_cache(maxsize=4096)
def stem(word: str) -> str:
    """The stem of one word; # for a number."""
    return "#" if word.isdigit() else str(_STEMMER.stemWord(_IRREGULAR.get(word, word)))


@dataclass(frozen=True)
class Form:
    """One way to say something, word by word. exact: that very word, not its stem."""

    parts: tuple[tuple[str, bool], ...]

    @classmethod
    def of(cls, text: str) -> Form:
        """`=word` is exact, # any number."""
        return cls(tuple((w[1:], True) if w.startswith("=") else (_plain_stem(w), False) for w in text.lower().split()))

    def at(self, words: tuple[Word, ...], k: int) -> int | None:
        """Where it ends when it begins at word k, or None."""
        if k + len(self.parts) > len(words):
            return None
        for (part, exact), word in zip(self.parts, words[k : k + len(self.parts)], strict=True):
            if part != (word.written if exact else word.stem) and not (part.isdigit() and part == word.written):
                return None
        return k + len(self.parts)

    @property
    def denies(self) -> bool:
        return any(part in _NOT for part, _ in self.parts)


def _plain_stem(word: str) -> str:
    plain = _NUMBERS.get(word, word)
    return plain if plain.isdigit() else stem(plain)


@dataclass(frozen=True)
class Concept:
    """Something that has a name: ways to say it, the longest first, and longer words in which it is something else."""

    forms: tuple[Form, ...]
    others: tuple[Form, ...] = ()

    @classmethod
    def of(cls, texts: Iterable[str]) -> Concept:
        """From forms; !words are the longer words that mean something else ("!plug boot")."""
        texts = [text for text in texts if text.strip("! ")]
        forms = sorted((Form.of(t) for t in texts if not t.startswith("!")), key=lambda f: -len(f.parts))
        return cls(tuple(forms), tuple(Form.of(t[1:]) for t in texts if t.startswith("!")))

    @cached_property
    def _begins(self) -> frozenset[str]:
        return frozenset(form.parts[0][0] for form in self.forms)

    def at(self, words: tuple[Word, ...], k: int) -> tuple[int, Form] | None:
        """Where it ends when it is said from word k on, and how."""
        if k >= len(words) or not {words[k].stem, words[k].written} & self._begins:
            return None  # most words begin nothing
        for form in self.forms:
            end = form.at(words, k)
            if end is not None and not self._something_else(words, k, end):
                return end, form
        return None

    def _something_else(self, words: tuple[Word, ...], k: int, end: int) -> bool:
        for other in self.others:
            for begin in range(max(k - len(other.parts) + 1, 0), end):
                if other.at(words, begin) is not None:
                    return True
        return False


Vocabulary = Mapping[str, Concept]


def vocabulary(forms: Mapping[str, Iterable[str]]) -> Vocabulary:
    """The concepts of every name."""
    return {name: Concept.of(texts) for name, texts in forms.items()}


@dataclass(frozen=True)
class Element:
    """One thing of a half: a concept, or a word. gap: how many other words may stand before it."""

    concept: Concept
    gap: int


@dataclass(frozen=True)
class Half:
    """Part of a claim: things said one after the other, a few words between at most. absent: said not to be there."""

    elements: tuple[Element, ...]
    absent: bool
    first: bool = False
    last: bool = False

    @classmethod
    def of(cls, text: str, known: Vocabulary) -> Half:
        """From "<open> <cap>" or plain words: .<cap> follows at once, ^ begins the clause, $ ends it, ! is denied.

        Raises KeyError for a name that is not in the vocabulary.
        """
        rest = text.lstrip("!^").rstrip("$")
        elements = []
        for word in rest.split():
            bare = word.removeprefix(".")
            concept = known[bare[1:-1]] if bare.startswith("<") else Concept.of((bare,))
            elements.append(Element(concept, 0 if word.startswith(".") else _GAP))
        marks = text[: text.index(rest)]
        return cls(tuple(elements), "!" in marks, "^" in marks, text.endswith("$"))

    def hits(self, clause: Clause, spent: Collection[int] = ()) -> list[Hit]:
        """Everywhere that the clause says it. spent: words whose "not" belongs to another half."""
        count = min(len(clause.words), _BEGIN) if self.first else len(clause.words)
        found = (self._from(clause.words, k, spent) for k in range(count))
        hits = [hit for hit in found if hit is not None and hit.denied == self.absent]
        return [hit for hit in hits if hit.stop == len(clause.words)] if self.last else hits

    def _from(self, words: tuple[Word, ...], start: int, spent: Collection[int]) -> Hit | None:
        stop, own = start, False
        inside: list[int] = []
        for number, element in enumerate(self.elements):
            latest = start if number == 0 else min(stop + element.gap, len(words))
            places = ((k, element.concept.at(words, k)) for k in range(stop, latest + 1))
            begin, place = next(((k, hit) for k, hit in places if hit is not None), (0, None))
            if place is None:
                return None
            inside += range(stop, begin) if number else []
            stop, own = place[0], own or place[1].denies
        near = [*range(max(start - _REACH, 0), start), *inside]
        denied = any(words[k].denies for k in near if k not in spent)
        return Hit(start, stop, denied and not own)
