"""The key: from a few answers about what is seen and felt to the kinds it may be.

Bayes over the kinds of the guide; the question asked next is the one expected to tell most.
How likely a kind answers what is judgement (the signs), the arithmetic around it is published.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import exp, fsum, log

from defectlog.guide.entry import Kind, QuickTest
from defectlog.guide.odds import entropy_bits
from defectlog.guide.signs import UNSAID, KeyData, Question

DONT_KNOW = "dont-know"
MOST_QUESTIONS = 6  # nobody has more patience, standing at a mould
# Judgement: the share from which one kind leads clearly (high, so that a slip in one answer is
# still found out by the next ones); the part of the leader's share below which a kind has fallen
# out; what a question must be expected to tell to be worth asking, and to be given as what
# separates two kinds in place of their entries' own words.
LEADS = 0.95
STILL_IN = 1 / 30
WORTH_ASKING_BITS = 0.02
WORTH_PARTING_BITS = 0.25  # of the one bit there is between two kinds


@dataclass(frozen=True, slots=True)
class Standing:
    """How one kind stands: its share, and the answers that speak for and against it."""

    kind: Kind
    share: float
    still_in: bool
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]

    @property
    def fit(self) -> str:
        """The share as a word: strong fit, fair, weak or fell out."""
        if not self.still_in:
            return "fell out"
        return "strong fit" if self.share >= 0.5 else "fair" if self.share >= 0.1 else "weak"

    @property
    def why(self) -> str:
        """Why it is still in, or fell out, in one or two sentences."""
        said = [
            f"{lead}: {'; '.join(answers)}."
            for lead, answers in (
                ("Speaks for it", self.speaks_for),
                ("Speaks against it", self.speaks_against),
            )
            if answers
        ]
        return " ".join(said) or "Nothing speaks for or against it yet."


@dataclass(frozen=True, slots=True)
class KeyState:
    """Where the key stands after some answers: kinds by share, and what to ask next.

    ``question`` is None when nothing more is to be asked; ``gain_bits`` is what it is expected
    to tell about the kinds still in. ``clear`` says that one kind leads; ``may_go_on`` that
    there would be another question for whoever wants it.
    """

    standings: tuple[Standing, ...]
    question: Question | None
    gain_bits: float
    asked: int
    clear: bool
    may_go_on: bool

    @property
    def still_in(self) -> tuple[Standing, ...]:
        return tuple(one for one in self.standings if one.still_in)

    @property
    def knows_something(self) -> bool:
        """Whether any answer was more than "don't know"."""
        return bool(self.standings[0].speaks_for or self.standings[0].speaks_against)

    @property
    def runner_up(self) -> Standing:
        """What the leader is most easily taken for: the next still in, else by its own entry."""
        leader, second = self.standings[:2]
        alike = {one.kind for one in leader.kind.unlike}
        named = (one for one in self.standings if one.kind.key in alike)
        return second if second.still_in else next(named, second)

    @property
    def fallen_out(self) -> tuple[Standing, ...]:
        return tuple(one for one in self.standings if not one.still_in)


@dataclass(frozen=True, slots=True)
class Parting:
    """What separates two kinds: the words, and the quick test if there is one.

    ``not_now`` says which test the guide names for the two and why it is not this one's turn.
    """

    tell: str
    test: QuickTest | None
    not_now: str = ""


def look(
    answers: Mapping[str, str],
    kinds: Sequence[Kind],
    data: KeyData,
    *,
    given: Collection[str] = (),
    go_on: bool = False,
    prior: Mapping[str, float] | None = None,
) -> KeyState:
    """Where the key stands after these answers.

    Parameters
    ----------
    answers : answer key, or ``DONT_KNOW``, by question key; their order does not matter
    kinds : the kinds to choose among, each with signs in ``data``
    data : questions and signs
    given : questions of ``answers`` that were known by themselves and count as not asked
    go_on : ask on when a kind leads or enough was asked, as long as there is something to learn
    prior : share or count of each kind before any answer, above 0; alike if None

    Raises
    ------
    KeyError
        For a question, or an answer to it, that ``data`` does not have.
    """
    shares = posterior(answers, [kind.key for kind in kinds], data, prior)
    least = max(shares.values()) * STILL_IN
    standings = sorted(
        (_standing(kind, shares[kind.key], least, answers, data) for kind in kinds),
        key=lambda one: -one.share,
    )
    in_it = {one.kind.key: one.share for one in standings if one.still_in}
    question, gain = _next(in_it, answers, data)
    asked = len(answers.keys() - set(given))
    clear = standings[0].share >= LEADS
    stop = not go_on and (clear or asked >= MOST_QUESTIONS)
    return KeyState(
        standings=tuple(standings),
        question=None if stop else question,
        gain_bits=gain,
        asked=asked,
        clear=clear,
        may_go_on=stop and question is not None,
    )


def posterior(
    answers: Mapping[str, str],
    kinds: Sequence[str],
    data: KeyData,
    prior: Mapping[str, float] | None = None,
) -> dict[str, float]:
    """Share of each kind after the answers; they sum to 1.

    Naive Bayes: given the kind, answers count as independent. "Don't know" multiplies by
    nothing. The logarithms are added by ``fsum``, whose sum does not depend on the order.
    """
    for key, answer in answers.items():
        if answer != DONT_KNOW:
            data.question(key).answer(answer)
    said = [(key, answer) for key, answer in answers.items() if answer != DONT_KNOW]
    scores = {
        kind: fsum(
            (
                log(prior[kind]) if prior else 0.0,
                *(log(data.signs[kind].chances[key][answer]) for key, answer in said),
            )
        )
        for kind in kinds
    }
    best = max(scores.values())
    weights = {kind: exp(score - best) for kind, score in scores.items()}
    total = fsum(weights.values())
    return {kind: weight / total for kind, weight in weights.items()}


def gain_bits(question: Question, shares: Mapping[str, float], data: KeyData) -> float:
    """How much the answer to a question is expected to tell about the kind, in bits.

    Parameters
    ----------
    question : the question
    shares : share of each kind, in any unit; scaled to sum to 1
    data : the signs

    Returns
    -------
    float
        Mutual information of kind and answer, H(answer) - H(answer | kind).

    Notes
    -----
    Cover and Thomas, Elements of Information Theory, 2nd ed. 2006, eq. 2.43; the expected fall
    of the entropy of the shares, as a test holds by enumerating the answers.
    """
    total = fsum(shares.values())
    rows = [
        (share / total, data.signs[kind].chances[question.key]) for kind, share in shares.items()
    ]
    expected = [fsum(share * row[one.key] for share, row in rows) for one in question.answers]
    within = fsum(share * entropy_bits(row.values()) for share, row in rows)
    return max(0.0, entropy_bits(expected) - within)


def _next(
    shares: Mapping[str, float], answers: Mapping[str, str], data: KeyData
) -> tuple[Question | None, float]:
    """The open question that tells most, the upper one among equals; None if none is worth it."""
    open_now = [one for one in data.questions if one.open_after(answers)]
    gains = [(gain_bits(one, shares, data), one) for one in open_now]
    gain, best = max(gains, key=lambda pair: pair[0], default=(0.0, None))
    return (best, gain) if gain >= WORTH_ASKING_BITS else (None, gain)


def _standing(
    kind: Kind, share: float, least: float, answers: Mapping[str, str], data: KeyData
) -> Standing:
    words = data.signs[kind.key].words
    # In the order of the questions, so that the same answers always read the same.
    said = [one for one in data.questions if answers.get(one.key, DONT_KNOW) != DONT_KNOW]
    shorts: dict[str, list[str]] = {
        "usual": [],
        "sometimes": [],
        "rare": [],
        "never": [],
        UNSAID: [],
    }
    for question in said:
        answer = question.answer(answers[question.key])
        shorts[words[question.key][answer.key]].append(answer.short)
    return Standing(
        kind=kind,
        share=share,
        still_in=share >= least,
        speaks_for=(*shorts["usual"], *(f"{short}, sometimes" for short in shorts["sometimes"])),
        speaks_against=(*shorts["never"], *(f"{short}, rare" for short in shorts["rare"])),
    )


def part(
    leader: Kind, other: Kind, data: KeyData, answers: Mapping[str, str] | None = None
) -> Parting:
    """What separates two kinds: what either entry says of the other, else the best question.

    A test is not named again once it was done, nor before those it has to wait for, nor after an
    answer that bars it: no solvent on resin that a nail has just dented.
    """
    answers = answers or {}
    put_off: list[Parting] = []
    for one, two in ((leader, other), (other, leader)):
        for alike in one.unlike:
            if alike.kind == two.key:
                not_now = _not_now(alike.test, data, answers)
                if not not_now:
                    return Parting(alike.tell, alike.test)
                put_off.append(Parting(alike.tell, None, not_now))
    why_not = " ".join(dict.fromkeys(one.not_now for one in put_off))
    best, gain = _parts_best(leader, other, data, answers)
    if put_off and gain < WORTH_PARTING_BITS:
        # What was done may be said again; what is barred had better not be.
        done = next((one for one in put_off if ": done," in one.not_now), put_off[0])
        return Parting(done.tell, None, why_not)
    tells = [
        f"{kind.title}: {_usual(best, data.signs[kind.key].words[best.key])}."
        for kind in (leader, other)
    ]
    return Parting(f"{best.ask} {' '.join(tells)}", best.test, why_not)


def _parts_best(
    leader: Kind, other: Kind, data: KeyData, answers: Mapping[str, str]
) -> tuple[Question, float]:
    """The open question that separates two kinds best, and by how much of one bit.

    With none open, of all that are not barred.
    """
    evenly = {leader.key: 0.5, other.key: 0.5}
    allowed = [one for one in data.questions if not one.barred_by(answers)]
    still_open = [one for one in allowed if one.open_after(answers)]
    gains = [(gain_bits(one, evenly, data), one) for one in still_open or allowed]
    gain, best = max(gains, key=lambda pair: pair[0])
    return best, gain


def _not_now(test: QuickTest | None, data: KeyData, answers: Mapping[str, str]) -> str:
    """Why a test is not to be done after these answers; empty if it may be."""
    question = next((one for one in data.questions if test and one.test == test), None)
    if question is None or test is None:
        return ""
    said = answers.get(question.key, DONT_KNOW)
    if said != DONT_KNOW:
        return f"{test.title}: done, {question.answer(said).short}."
    for before, answer in question.barred_by(answers):
        return f"{test.title}: not here, {data.question(before).answer(answer).short}."
    waits = [data.question(key) for key in question.after if key not in answers]
    if waits:
        return f"{test.title}: only after {' and '.join(f'“{one.ask}”' for one in waits)}."
    return ""


def _usual(question: Question, words: Mapping[str, str]) -> str:
    usual = " or ".join(one.short for one in question.answers if words[one.key] == "usual")
    return usual or "nobody wrote it down"


# What a photo and what is drawn or measured on it say without being asked. A box only holds
# something, whatever its shape; "other" says nothing of the face.
_OF_FACE = {"tool side": "tool", "bag side": "bag", "edge": "edge", "core": "inside"}
_OF_MEASURED = {"round": "spots", "long": "line", "irregular": "patch"}
_OF_MARK = {"point": "spots", "line": "line", "outline": "patch"}


def answers_from(*, face: str = "", measured: str = "", mark: str = "") -> dict[str, str]:
    """Answers that are known by themselves.

    Parameters
    ----------
    face : face of the photo, in the words of the records ("tool side", …)
    measured : shape word of a measured void (round, long, irregular); goes before ``mark``
    mark : shape of the mark (point, line, outline, box)

    Returns
    -------
    dict
        Answer by question; what is not known, or says nothing, is left out.
    """
    shape = _OF_MEASURED.get(measured) or _OF_MARK.get(mark)
    found = {"face": _OF_FACE.get(face), "shape": shape}
    return {question: answer for question, answer in found.items() if answer}
