"""Questions and signs: every refusal provoked, and what ships complete."""

from pathlib import Path

import pytest

from defectlog.guide import EntryError, kinds, library
from defectlog.guide.signs import read_key

QUESTIONS = """
[face]
ask = "Which face?"
answer = [
  { key = "tool", say = "Tool", short = "tool side" },
  { key = "bag", say = "Bag", short = "bag side" },
]

[wash]
ask = "Does water take it off?"
plain = "no"
test = "water-wash"
after = ["face"]
unless = { face = ["tool"] }
answer = [
  { key = "no", say = "No", short = "stays" },
  { key = "yes", say = "Yes", short = "washes off" },
  { key = "part", say = "In part", short = "washes off in part" },
]
"""
SIGNS = """
[pits]
face = { usual = ["tool"], never = ["bag"] }

[blush]
face = { usual = ["bag"], sometimes = ["tool"] }
wash = { usual = ["yes"] }
"""


def read(tmp_path: Path, questions: str = QUESTIONS, signs: str = SIGNS):
    (tmp_path / "questions.toml").write_text(questions, "utf-8")
    (tmp_path / "signs.toml").write_text(signs, "utf-8")
    return read_key(tmp_path, ["pits", "blush"], library.shared().tests)


def test_words_become_chances_that_sum_to_one(tmp_path):
    blush = read(tmp_path).signs["blush"]

    # usual 1, sometimes 0.3, rare 0.08: 1/1.3 and 0.3/1.3; 1/1.16 and twice 0.08/1.16.
    assert blush.chances["face"] == pytest.approx({"bag": 1 / 1.3, "tool": 0.3 / 1.3})
    assert blush.chances["wash"] == pytest.approx(
        {"yes": 1 / 1.16, "no": 0.08 / 1.16, "part": 0.08 / 1.16}
    )


def test_a_kind_that_says_nothing_has_the_plain_answer(tmp_path):
    pits = read(tmp_path).signs["pits"]

    assert pits.words["wash"] == {"no": "usual", "yes": "rare", "part": "rare"}


def test_even_never_leaves_a_chance(tmp_path):
    assert read(tmp_path).signs["pits"].chances["face"]["bag"] > 0


# In the questions or the signs, these words put in place of those.
REFUSED = [
    ("an unknown kind", "[pits]", "[moon]\n[pits]", "moon.*no kind"),
    ("a kind without signs", "[blush]\n", "", "said twice|Cannot overwrite"),
    ("a question left out", 'face = { usual = ["tool"], never = ["bag"] }', "", "face.*missing"),
    ("an unknown question", "wash = {", "smell = {", "smell.*not a word"),
    ("an unknown answer", '"yes"] }', '"maybe"] }', "maybe.*not known"),
    ("an unknown word", "sometimes", "at-times", "at-times"),
    ("an answer said twice", 'sometimes = ["tool"]', 'sometimes = ["bag"]', "said twice"),
    ("no usual answer", 'usual = ["yes"]', 'never = ["yes"]', "usual.*missing"),
    ("a plain answer that is none", 'plain = "no"', 'plain = "nein"', "nein"),
    ("an unknown test", "water-wash", "tasting", "tasting"),
    ("a question after one below", 'after = ["face"]', 'after = ["wash"]', "no question above"),
    ("an answer that keeps it away and is none", '["tool"] }\nanswer', '["sky"] }\nanswer', "sky"),
    ("an answer key used twice", 'key = "part"', 'key = "yes"', "used twice"),
    ("an unknown word in a question", "plain", "plane", "plane"),
    ("an unknown word in an answer", 'short = "tool side"', 'shot = "tool side"', "short"),
]


@pytest.mark.parametrize(("old", "new", "words"), [pytest.param(*r[1:], id=r[0]) for r in REFUSED])
def test_a_key_is_refused_with(tmp_path, old, new, words):
    assert old in QUESTIONS + SIGNS

    with pytest.raises(EntryError, match=words):
        read(tmp_path, QUESTIONS.replace(old, new), SIGNS.replace(old, new))


def test_a_kind_without_signs_is_refused(tmp_path):
    with pytest.raises(EntryError, match="blush.*missing"):
        read(tmp_path, signs=SIGNS.split("[blush]")[0])


def test_an_answer_can_keep_a_later_question_from_being_asked(tmp_path):
    wash = read(tmp_path).question("wash")

    assert wash.open_after({"face": "bag"})
    assert not wash.open_after({"face": "tool"})
    assert not wash.open_after({})


def test_every_kind_of_the_guide_has_signs_for_every_question():
    data = library.key_data()

    assert set(data.signs) == {kind.key for kind in kinds()}
    for signs in data.signs.values():
        for question in data.questions:
            assert sum(signs.chances[question.key].values()) == pytest.approx(1)


def test_no_two_kinds_have_the_same_signs():
    words = [signs.words for signs in library.key_data().signs.values()]

    assert all(one != other for i, one in enumerate(words) for other in words[:i])


def test_solvent_waits_for_water_and_nail():
    assert set(library.key_data().question("solvent").after) == {"water", "press"}
