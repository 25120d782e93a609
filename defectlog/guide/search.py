"""Kinds found by what a maker would call it: symptom words, misspelt ones among them."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import log

from defectlog.guide import library
from defectlog.guide.entry import Kind

# What a hit counts for: the name says more than the look, the look more than a cause.
_WEIGHTS = {
    "code": 10,
    "title": 8,
    "words": 6,
    "notes": 4,
    "look": 3,
    "causes": 2,
    "fixes": 2,
    "rest": 1,
}
_SAME, _BEGINS = 2, 1
_WORTH_SHOWING = 0.4  # of the best kind's score; what answers less well only hides it. Judgement.

# Words that say nothing about a defect; asked alone they are looked up like any other.
_IDLE = frozenset(
    "a an the of on in at it its is are was and or with my to from after there this that has "
    "i my we looks look like feels feel very some all over".split()
)

# Slips of the finger forgiven, by the least length of the word. Judgement: short words have
# so many neighbours that one slip would find anything.
_SLIPS = ((7, 2), (4, 1))


@dataclass(frozen=True, slots=True)
class Found:
    """What a search came to.

    ``kinds`` best first; ``read_as`` the guide's words for those typed that it does not have;
    ``left_out`` the typed words nothing in the guide is near to; ``in_notes`` the keys of the
    kinds whose notes answer to a word.
    """

    kinds: tuple[Kind, ...]
    read_as: Mapping[str, tuple[str, ...]]
    left_out: tuple[str, ...]
    in_notes: frozenset[str] = frozenset()

    @property
    def in_words(self) -> str:
        """How the words were understood, where that is not plain; else empty."""
        said = [f"“{typed}” read as {' or '.join(own)}" for typed, own in self.read_as.items()]
        if self.left_out and self.kinds:
            said.append(f"not in the guide: {', '.join(self.left_out)}")
        return "; ".join(said)


def search(text: str) -> tuple[Kind, ...]:
    """Kinds that answer to the words, best first; all of them for no words."""
    return look_up(text).kinds


def look_up(
    text: str, among: Sequence[Kind] | None = None, notes: Mapping[str, str] | None = None
) -> Found:
    """Find kinds by words, and say how the words were understood.

    ``among`` are the kinds to look through, the guide's own if not given; ``notes`` what a shop
    wrote under them, by key of the kind. A typed word answers to a word of the entry that is the
    same but for a plural, or that it begins, so that "stick" finds "sticky"; two words also
    answer as one ("pin holes"). A word that is nowhere is read as its nearest neighbours by
    spelling.
    """
    kinds = library.kinds() if among is None else tuple(among)
    return _Index(kinds, notes or {}).look_up(text)


class _Index:
    """The words of some kinds, to be searched."""

    def __init__(self, kinds: Sequence[Kind], notes: Mapping[str, str]):
        self._kinds = tuple(kinds)
        self._fields = {
            one.key: {**_fields_of(one), "notes": _held(notes.get(one.key, ""))}
            for one in self._kinds
        }
        self._vocabulary = frozenset[str]().union(
            *(held for fields in self._fields.values() for held in fields.values())
        )

    def look_up(self, text: str) -> Found:
        asked = self._asked(text)
        if not asked:
            return Found(self._kinds, {}, ())
        read_as: dict[str, tuple[str, ...]] = {}
        left_out = []
        meant: list[tuple[str, ...]] = []
        for word, ways in asked:
            known = tuple(way for way in ways if self._is_known(way))
            near = () if known else self._nearest(word)
            if near:
                read_as[word] = near
            if known or near:
                meant.append(known or near)
            else:
                left_out.append(word)
        return Found(self._best(meant), read_as, tuple(left_out), self._in_notes(meant))

    def _in_notes(self, meant: Sequence[tuple[str, ...]]) -> frozenset[str]:
        words = {way for ways in meant for way in ways}
        return frozenset(
            key
            for key, fields in self._fields.items()
            if any(_answers(word, fields["notes"]) for word in words)
        )

    def _best(self, meant: Sequence[tuple[str, ...]]) -> tuple[Kind, ...]:
        """Kinds by how well they answer; a word that few kinds answer to counts more than one
        that many do."""
        total = {one.key: 0.0 for one in self._kinds}
        for ways in meant:
            hits = {key: max(self._score(key, way) for way in ways) for key in total}
            rarity = log(1 + len(hits) / sum(hit > 0 for hit in hits.values()))
            for key, hit in hits.items():
                total[key] += hit * rarity
        least = _WORTH_SHOWING * max(total.values(), default=0)
        ranked = sorted(self._kinds, key=lambda one: -total[one.key])
        return tuple(one for one in ranked if total[one.key] >= least > 0)

    def _asked(self, text: str) -> list[tuple[str, tuple[str, ...]]]:
        """Each word typed with the ways to take it: as it stands, or as one with its neighbour."""
        words = [part for word in _words(text) for part in self._parts(word)]
        telling = [word for word in words if word not in _IDLE] or words
        joined = {
            one: "".join(one) for one in pairwise(telling) if "".join(one) in self._vocabulary
        }
        return [
            (word, (word, *(whole for pair, whole in joined.items() if word in pair)))
            for word in dict.fromkeys(telling)
        ]

    def _score(self, key: str, word: str) -> int:
        """What one word counts for a kind: the field it is found in, and how exactly."""
        fields = self._fields[key].items()
        return max(_answers(word, held) * _WEIGHTS[name] for name, held in fields)

    def _is_known(self, word: str) -> bool:
        stem = _stem(word)
        return any(own == stem or own.startswith(word) for own in self._vocabulary)

    def _parts(self, word: str) -> tuple[str, ...]:
        """A word the guide writes as two, such as peelply; else the word itself."""
        if not self._is_known(word):
            for cut in range(3, len(word) - 2):
                if {word[:cut], word[cut:]} <= self._vocabulary:
                    return word[:cut], word[cut:]
        return (word,)

    def _nearest(self, word: str) -> tuple[str, ...]:
        """The guide's words nearest to one it does not have; none if all are too far."""
        for ending in ("ing", "ed"):
            root = word.removesuffix(ending)
            if root != word and len(root) > 3 and root in self._vocabulary:
                return (root,)
        allowed = next((slips for length, slips in _SLIPS if len(word) >= length), 0)
        far = {own: slips_between(word, own, allowed) for own in self._vocabulary}
        least = min(far.values(), default=allowed + 1)
        if least > allowed:
            return ()
        near = sorted(own for own, slips in far.items() if slips == least)
        # The first letter is the one people get right: with it wrong, one slip is all.
        first = [own for own in near if own[0] == word[0]]
        return tuple(first or (near if least < 2 else ()))[:3]


def _answers(word: str, held: frozenset[str]) -> int:
    """Whether a word stands among others, or begins one: 2, 1 or 0."""
    if _stem(word) in held:
        return _SAME
    return _BEGINS if any(own.startswith(word) for own in held) else 0


def slips_between(one: str, other: str, most: int) -> int:
    """How many slips of the finger make one word the other; ``most`` + 1 for any more.

    A slip is a letter too many, one missing, a wrong one, or two neighbours swapped: the optimal
    string alignment distance, after F. J. Damerau, A technique for computer detection and
    correction of spelling errors, Commun. ACM 7, 171–176, 1964.
    """
    if abs(len(one) - len(other)) > most:
        return most + 1
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        last, row, older = row, [i], before
        for j, its in enumerate(other, 1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (letter != its))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == its:
                cost = min(cost, older[j - 2] + 1)
            row.append(cost)
        before = last
        if min(row) > most:
            return most + 1
    return min(row[-1], most + 1)


@lru_cache(maxsize=500)
def _fields_of(one: Kind) -> dict[str, frozenset[str]]:
    """The words of a kind by field: in full, and without their endings."""
    return {name: _held(text) for name, text in _texts(one)}


def _texts(one: Kind) -> tuple[tuple[str, str], ...]:
    return (
        ("code", one.code),
        ("title", f"{one.title} {one.key}"),
        ("words", " ".join(one.words)),
        ("look", f"{one.look} {one.feel} {one.definition}"),
        ("causes", " ".join(f"{cause.title} {cause.why}" for cause in one.causes)),
        ("fixes", " ".join(fix.title for fix in one.fixes if fix.origin)),
        ("rest", " ".join((one.family.title, *(row.do for row in one.preventions)))),
    )


def _held(text: str) -> frozenset[str]:
    words = _words(text)
    return frozenset(words) | frozenset(_stem(word) for word in words)


def _stem(word: str) -> str:
    """A word without its plural: specks, speck; patches, patch."""
    if len(word) > 4 and word.endswith(("ches", "shes", "sses", "xes")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
        return word[:-1]
    return word


def _words(text: str) -> list[str]:
    plain = unicodedata.normalize("NFKD", text.casefold())
    return re.findall(r"[a-z0-9]+", "".join(c for c in plain if not unicodedata.combining(c)))
