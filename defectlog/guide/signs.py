"""The questions of the key and what each kind answers to them, as frozen values."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from pathlib import Path

from defectlog.guide.entry import QuickTest
from defectlog.guide.row import Row, read_table

QUESTIONS_FILE = "questions.toml"
SIGNS_FILE = "signs.toml"

# Parts of one, before they are shared out among the answers of a question. Judgement. A slip of
# the one who answers is as likely as "rare" or "never"; with no floor it would end the search.
WEIGHTS = {"usual": 1.0, "sometimes": 0.3, "rare": 0.08, "never": 0.04}
UNSAID = "unsaid"  # nobody wrote down what the kind answers


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to tap: ``say`` on the button, ``short`` inside a sentence."""

    key: str
    say: str
    short: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the key. ``after`` are questions that have to be asked before it.

    ``plain`` is the answer of every kind whose signs say nothing else, empty if each has to say.
    ``unless`` holds pairs of an earlier question and an answer to it that keep this one from
    being asked: what it has a person do would then do harm.
    """

    key: str
    ask: str
    how: str
    plain: str
    test: QuickTest | None
    after: tuple[str, ...]
    unless: tuple[tuple[str, str], ...]
    answers: tuple[Answer, ...]

    def open_after(self, answers: Mapping[str, str]) -> bool:
        """Whether it may be asked after these answers, each by the key of its question."""
        return (
            self.key not in answers
            and all(before in answers for before in self.after)
            and not self.barred_by(answers)
        )

    def barred_by(self, answers: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
        """Those answers, with their questions, after which it must not be asked."""
        return tuple(pair for pair in self.unless if answers.get(pair[0]) == pair[1])

    def answer(self, key: str) -> Answer:
        """The answer of this key; ``KeyError`` if the question has none."""
        for one in self.answers:
            if one.key == key:
                return one
        raise KeyError(key)


@dataclass(frozen=True, slots=True)
class Signs:
    """What one kind answers: for every question the word of every answer.

    ``words`` holds usual, sometimes, rare or never, or unsaid where a shop did not say;
    ``chances`` what these come to, by question and answer, summing to 1 over the answers of a
    question.
    """

    words: Mapping[str, Mapping[str, str]]
    chances: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class KeyData:
    """All the key goes by: the questions in order, and the signs of every kind by its key."""

    questions: tuple[Question, ...]
    signs: Mapping[str, Signs]

    def question(self, key: str) -> Question:
        """The question of this key; ``KeyError`` if there is none."""
        for one in self.questions:
            if one.key == key:
                return one
        raise KeyError(key)


def read_key(folder: Path, kinds: Sequence[str], tests: Mapping[str, QuickTest]) -> KeyData:
    """Read questions and signs of a folder for these kinds.

    Raises
    ------
    EntryError
        For a question, an answer or a kind that is not known, and for a kind without signs.
    """
    questions = tuple(
        _question(Row(QUESTIONS_FILE, key, table), tests)
        for key, table in read_table(folder / QUESTIONS_FILE).items()
    )
    _see_order(questions)
    tables = read_table(folder / SIGNS_FILE)
    for key in tables.keys() - set(kinds):
        raise Row(SIGNS_FILE, "", {}).fault(key, "it is no kind of the guide")
    whole = Row(SIGNS_FILE, "", tables)
    signs = {key: _signs(Row(SIGNS_FILE, key, whole.take(key)), questions) for key in kinds}
    return KeyData(questions, signs)


def with_shop(data: KeyData, usual: Mapping[str, Mapping[str, Sequence[str]]]) -> KeyData:
    """The key with kinds of a shop in it.

    Parameters
    ----------
    data : the key of the guide
    usual : by key of the kind and of the question, the answers that are usual for it

    Notes
    -----
    A kind that does not say what it answers to a question answers as the guide's kinds do on
    average, so that the answer moves it neither up nor down against them. What the key does not
    know (any more) is passed over; a kind that is left with no answer is not in the key.
    """
    unsaid = {question.key: _average(question, data.signs) for question in data.questions}
    signs = dict(data.signs)
    for kind, said in usual.items():
        known = {question.key: _known(question, said) for question in data.questions}
        if any(known.values()):
            signs[kind] = _signs_of_shop(data.questions, known, unsaid)
    return KeyData(data.questions, signs)


def _known(question: Question, said: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    given = said.get(question.key, ())
    return tuple(one.key for one in question.answers if one.key in given)


def _average(question: Question, signs: Mapping[str, Signs]) -> dict[str, float]:
    held = [one.chances[question.key] for one in signs.values()]
    return {a.key: fsum(row[a.key] for row in held) / len(held) for a in question.answers}


def _signs_of_shop(
    questions: Sequence[Question],
    known: Mapping[str, Sequence[str]],
    unsaid: Mapping[str, Mapping[str, float]],
) -> Signs:
    words: dict[str, Mapping[str, str]] = {}
    chances: dict[str, Mapping[str, float]] = {}
    for question in questions:
        if known[question.key]:
            words[question.key] = _worded(question, {"usual": known[question.key]})
            chances[question.key] = _chances(words[question.key])
        else:
            words[question.key] = {one.key: UNSAID for one in question.answers}
            chances[question.key] = unsaid[question.key]
    return Signs(words, chances)


def _question(row: Row, tests: Mapping[str, QuickTest]) -> Question:
    answers = tuple(_answer(answer) for answer in row.rows("answer", least=2))
    keys = [answer.key for answer in answers]
    if len(set(keys)) < len(keys):
        raise row.fault("answer", "a key is used twice")
    test = row.one_of("test", tests) if row.has("test") else ""
    made = Question(
        row.where,
        row.text("ask"),
        row.text("how", optional=True),
        row.one_of("plain", keys) if row.has("plain") else "",
        tests.get(test),
        row.texts("after", least=0),
        _unless(row),
        answers,
    )
    row.end()
    return made


def _unless(row: Row) -> tuple[tuple[str, str], ...]:
    if not row.has("unless"):
        return ()
    table = Row(row.file, f"{row.where}.unless", row.take("unless"))
    return tuple((key, answer) for key in table.names() for answer in table.texts(key))


def _answer(row: Row) -> Answer:
    made = Answer(row.text("key"), row.text("say"), row.text("short"))
    row.end()
    return made


def _see_order(questions: Sequence[Question]) -> None:
    """A question waits only for questions above it, so that none waits for itself."""
    above: dict[str, set[str]] = {}
    for one in questions:
        fault = Row(QUESTIONS_FILE, one.key, {})
        for key in one.after:
            if key not in above:
                raise fault.fault("after", f"“{key}” is no question above this one")
        for key, answer in one.unless:
            if answer not in above.get(key, ()):
                raise fault.fault("unless", f"“{key}” above this one has no answer “{answer}”")
        above[one.key] = {each.key for each in one.answers}


def _signs(row: Row, questions: Sequence[Question]) -> Signs:
    words = {}
    for question in questions:
        if question.plain and not row.has(question.key):
            words[question.key] = _worded(question, {"usual": (question.plain,)})
        else:
            given = Row(row.file, f"{row.where}.{question.key}", row.take(question.key))
            words[question.key] = _read_words(given, question)
    row.end()
    chances = {key: _chances(answers) for key, answers in words.items()}
    return Signs(words, chances)


def _read_words(row: Row, question: Question) -> dict[str, str]:
    known = {answer.key: answer.key for answer in question.answers}
    said = {
        word: row.all_of(word, known, least=int(word == "usual"))
        for word in ("usual", "sometimes", "never")
    }
    row.end()
    keys = [key for held in said.values() for key in held]
    for key in keys:
        if keys.count(key) > 1:
            raise row.fault(key, "it is said twice")
    return _worded(question, said)


def _worded(question: Question, said: Mapping[str, Sequence[str]]) -> dict[str, str]:
    by_answer = {key: word for word, keys in said.items() for key in keys}
    return {answer.key: by_answer.get(answer.key, "rare") for answer in question.answers}


def _chances(words: Mapping[str, str]) -> dict[str, float]:
    total = sum(WEIGHTS[word] for word in words.values())
    return {answer: WEIGHTS[word] / total for answer, word in words.items()}
