"""The key in an address: what was answered stands in the query, so that "back" takes it back."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from flask import url_for

from defectlog.guide.entry import Kind
from defectlog.guide.key import DONT_KNOW, MOST_QUESTIONS, KeyState, answers_from
from defectlog.guide.signs import Answer, KeyData, Question
from defectlog.units import plural

# Words of the query beside the questions: what was known by itself, whether to ask on, and what
# a photo says before it is made into answers.
KNOWN, ON = "known", "on"
FROM_PHOTO = {"photo": "face", "mark": "mark", "measured": "measured"}


@dataclass(frozen=True, slots=True)
class Asked:
    """What an address says was answered, in the order in which it was."""

    answers: Mapping[str, str]
    given: frozenset[str]
    go_on: bool

    @classmethod
    def read(cls, query: Mapping[str, str], data: KeyData) -> "Asked":
        """Take what the key knows; an answer it does not have is as good as none."""
        answers = {}
        for key, answer in query.items():
            question = next((one for one in data.questions if one.key == key), None)
            if question and answer in (DONT_KNOW, *(one.key for one in question.answers)):
                answers[key] = answer
        given = frozenset(query.get(KNOWN, "").split()) & answers.keys()
        return cls(answers, given, ON in query)

    @classmethod
    def of_photo(cls, query: Mapping[str, str]) -> "Asked":
        """What a photo and a mark on it say by themselves."""
        said = {word: query[name] for name, word in FROM_PHOTO.items() if name in query}
        answers = answers_from(**said)
        return cls(answers, frozenset(answers), go_on=False)

    @property
    def address(self) -> str:
        """The page that these answers lead to."""
        query = dict(self.answers)
        if self.given:
            query[KNOWN] = " ".join(sorted(self.given))
        if self.go_on:
            query[ON] = "1"
        return url_for("guide.which", **query)

    def saying(self, question: Question, answer: str) -> str:
        """The page after one more answer."""
        return replace(self, answers={**self.answers, question.key: answer}).address

    def without(self, key: str) -> str:
        """The page with one answer taken back."""
        left = {name: answer for name, answer in self.answers.items() if name != key}
        return replace(self, answers=left, given=self.given - {key}).address

    @property
    def on(self) -> str:
        """The page that asks on."""
        return replace(self, go_on=True).address

    def said(self, data: KeyData) -> tuple[tuple[Question, Answer | None], ...]:
        """Every question answered with its answer, None where that was "don't know"."""
        pairs = ((data.question(key), answer) for key, answer in self.answers.items())
        return tuple(
            (question, None if answer == DONT_KNOW else question.answer(answer))
            for question, answer in pairs
        )


def how_far(state: KeyState) -> str:
    """How many questions are still to come, so that nobody fears the end of the list."""
    left = MOST_QUESTIONS - state.asked
    if left <= 0:
        return f"{plural(state.asked, 'question')} asked; go on as long as you like"
    if not state.asked:
        return f"At most {plural(left, 'short question')}, often fewer"
    return f"At most {plural(left, 'more question')}"


def verdict(state: KeyState) -> str:
    """What the answers come to, in one sentence."""
    first = state.standings[0]
    if not state.knows_something:
        return "Nothing to go by yet."
    if state.clear and not first.speaks_against:
        return f"{first.kind.title}: nothing you said speaks against it."
    if state.clear:
        return f"{first.kind.title} fits best, though not all you said fits it."
    if len(state.still_in) == 1:
        return f"{first.kind.title} is the only one left."
    *most, last = [in_sentence(one.kind) for one in state.still_in[:3]]
    return f"Not separated: {', '.join(most)} or {last}."


def in_sentence(kind: Kind) -> str:
    """The shown name of a kind inside a sentence."""
    return kind.title[:1].lower() + kind.title[1:]
