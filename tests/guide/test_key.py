"""The key: every kind is reached, a slip is forgiven, and the arithmetic is that of Bayes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import permutations
from math import log2

import pytest

from defectlog.guide import kinds, library
from defectlog.guide.key import (
    DONT_KNOW,
    MOST_QUESTIONS,
    KeyState,
    Parting,
    answers_from,
    gain_bits,
    look,
    part,
    posterior,
)
from defectlog.guide.signs import with_shop

DATA = library.key_data()
KINDS = kinds()
KEYS = [kind.key for kind in KINDS]


def usual(kind: str, question: str) -> list[str]:
    words = DATA.signs[kind].words[question]
    return [answer for answer, word in words.items() if word == "usual"]


def walks(
    kind: str, said: dict[str, str], slips: int = 0
) -> Iterator[tuple[dict[str, str], KeyState]]:
    """Every way through the key by usual answers of a kind, with so many slips in each."""
    state = look(said, KINDS, DATA)
    if state.question is None:
        if not slips:
            yield said, state
        return
    question = state.question
    for answer in (one.key for one in question.answers):
        if answer in usual(kind, question.key):
            yield from walks(kind, {**said, question.key: answer}, slips)
        elif slips:
            yield from walks(kind, {**said, question.key: answer}, slips - 1)


def place(kind: str, state: KeyState) -> int:
    return [one.kind.key for one in state.standings].index(kind) + 1


@pytest.mark.parametrize("kind", KEYS)
def test_usual_answers_lead_to_the_kind_in_six_questions_or_fewer(kind):
    for said, state in walks(kind, {}):
        assert len(said) <= MOST_QUESTIONS == 6
        assert place(kind, state) == 1, said


@pytest.mark.parametrize("kind", KEYS)
def test_one_wrong_answer_keeps_the_right_kind_among_the_first_five(kind):
    for said, state in walks(kind, {}, slips=1):
        assert place(kind, state) <= 5, said


@pytest.mark.parametrize("kind", KEYS)
def test_a_kind_without_a_slip_is_never_said_to_have_fallen_out(kind):
    for _, state in walks(kind, {}):
        standing = next(one for one in state.standings if one.kind.key == kind)
        assert standing.still_in
        assert not standing.speaks_against


@pytest.mark.parametrize("first", [{}, {"face": "tool"}, {"face": "bag"}])
def test_a_sticky_face_is_washed_before_it_is_pressed_and_wiped_with_solvent(first):
    # The order for a tacky surface: water, then the nail, then solvent.
    said = {**first, "feel": "sticky"}
    asked = []
    for answer in ("same", "hard", "strings"):
        question = look(said, KINDS, DATA).question
        asked.append(question.key)
        said[question.key] = answer

    assert asked == ["water", "press", "solvent"]
    assert look(said, KINDS, DATA).standings[0].kind.key == "tacky-adhesive"


@pytest.mark.parametrize(
    "found", [{"water": "gone", "press": "hard"}, {"water": "same", "press": "dents"}]
)
def test_no_solvent_is_asked_for_once_water_took_it_off_or_the_nail_left_a_dent(found):
    # Solvent softens green resin and hides what the nail has just found; and what water takes
    # off needs no solvent.
    said = {"feel": "sticky", **found}

    while question := look(said, KINDS, DATA, go_on=True).question:
        assert question.key != "solvent"
        said[question.key] = DONT_KNOW


def test_before_any_answer_all_kinds_are_alike():
    state = look({}, KINDS, DATA)

    assert all(one.share == pytest.approx(1 / len(KINDS)) for one in state.standings)
    assert not state.fallen_out
    assert not state.knows_something


def test_shares_are_those_of_bayes_rule():
    said = {"face": "bag", "feel": "open"}

    shares = posterior(said, KEYS, DATA)

    # Written out: prior times chance of each answer, over the sum of the same for all kinds.
    products = {
        kind: DATA.signs[kind].chances["face"]["bag"] * DATA.signs[kind].chances["feel"]["open"]
        for kind in KEYS
    }
    total = sum(products.values())
    assert shares == pytest.approx({kind: product / total for kind, product in products.items()})


def test_a_prior_multiplies_the_odds():
    even = posterior({"feel": "open"}, KEYS, DATA)
    often = {kind: 4.0 if kind == "pinholes-bag" else 1.0 for kind in KEYS}

    shares = posterior({"feel": "open"}, KEYS, DATA, prior=often)

    odds = shares["pinholes-bag"] / shares["pinholes-tool"]
    assert odds == pytest.approx(4 * even["pinholes-bag"] / even["pinholes-tool"])


@pytest.mark.parametrize("said", [{}, {"feel": "rough"}, {"shape": "line", "face": "bag"}])
@pytest.mark.parametrize("question", DATA.questions, ids=lambda one: one.key)
def test_the_gain_is_the_expected_fall_of_uncertainty(said, question):
    shares = posterior(said, KEYS, DATA)

    def uncertainty(held: dict[str, float]) -> float:
        return -sum(share * log2(share) for share in held.values() if share)

    # By direct enumeration: each answer, how likely it is, and what would be left after it.
    after = 0.0
    for answer in question.answers:
        joint = {k: p * DATA.signs[k].chances[question.key][answer.key] for k, p in shares.items()}
        likely = sum(joint.values())
        after += likely * uncertainty({k: p / likely for k, p in joint.items()})

    assert gain_bits(question, shares, DATA) == pytest.approx(uncertainty(shares) - after)


def test_the_question_asked_is_the_one_that_tells_most_of_those_open():
    state = look({"feel": "rough"}, KINDS, DATA)
    still_in = {one.kind.key: one.share for one in state.still_in}

    others = [q for q in DATA.questions if q.key not in ("feel", "solvent")]
    assert state.gain_bits == max(gain_bits(q, still_in, DATA) for q in others)
    assert state.gain_bits == gain_bits(state.question, still_in, DATA)


def test_dont_know_changes_nothing_but_is_not_asked_again():
    before = look({"feel": "open"}, KINDS, DATA)
    asked = before.question.key

    after = look({"feel": "open", asked: DONT_KNOW}, KINDS, DATA)

    assert after.standings == before.standings
    assert after.question.key != asked


def test_six_times_dont_know_ends_and_knows_nothing():
    said = {}
    while (state := look(said, KINDS, DATA)).question:
        said[state.question.key] = DONT_KNOW

    assert len(said) == 6
    assert not state.knows_something
    assert state.may_go_on


def test_the_order_of_answers_does_not_matter():
    said = {"face": "bag", "feel": "rough", "colour": "pale", "peel": "fibres"}
    first = look(said, KINDS, DATA)

    for order in permutations(said.items()):
        assert look(dict(order), KINDS, DATA) == first


def test_what_a_photo_says_is_not_counted_as_asked():
    state = look({"face": "bag", "feel": "open"}, KINDS, DATA, given={"face"})

    assert state.asked == 1


def test_whoever_wants_more_questions_gets_them():
    said = next(said for said, _ in walks("pinholes-tool", {}))

    assert look(said, KINDS, DATA).question is None
    assert look(said, KINDS, DATA, go_on=True).question is not None


def test_it_is_said_why_a_kind_is_in_or_out():
    state = look({"face": "bag", "feel": "sticky"}, KINDS, DATA)
    by_key = {one.kind.key: one for one in state.standings}

    assert by_key["tacky-blush"].why == "Speaks for it: on the bag side; sticky or greasy."
    assert not by_key["pinholes-tool"].still_in
    assert by_key["pinholes-tool"].fit == "fell out"
    assert "Speaks against it: on the bag side; sticky or greasy" in by_key["pinholes-tool"].why


def test_an_answer_that_is_none_is_refused():
    with pytest.raises(KeyError):
        look({"face": "moon"}, KINDS, DATA)
    with pytest.raises(KeyError):
        look({"moon": "tool"}, KINDS, DATA)


def parted(one: str, other: str, said: dict[str, str]) -> Parting:
    by_key = {kind.key: kind for kind in KINDS}
    return part(by_key[one], by_key[other], DATA, said)


def test_the_entries_own_test_separates_look_alikes():
    said = {"feel": "sticky", "water": "same", "press": "hard"}

    parting = parted("tacky-undercure", "tacky-adhesive", said)

    assert parting.test.key == "solvent-spot"
    assert "amber strings" in parting.tell


def test_before_water_and_nail_another_test_than_solvent_separates():
    # The order for a tacky surface: water, then the nail, then solvent.
    assert parted("tacky-undercure", "tacky-adhesive", {"feel": "sticky"}).test.key == "nail"


@pytest.mark.parametrize("water", ["same", DONT_KNOW])
def test_after_a_dent_no_solvent_is_offered_to_separate_and_it_is_said_why(water):
    said = {"feel": "sticky", "water": water, "press": "dents"}

    for pair in (("tacky-undercure", "tacky-adhesive"), ("tacky-adhesive", "tacky-undercure")):
        parting = parted(*pair, said)

        assert parting.test is None or parting.test.key not in ("solvent-spot", "nail")
        assert "Solvent spot: not here, the nail leaves a dent." in parting.not_now
        assert "strings" not in parting.tell


def test_a_test_that_was_done_is_not_named_again():
    parting = parted("tacky-undercure", "tacky-adhesive", {"press": "hard", "water": "same"})
    assert parting.test.key == "solvent-spot"

    said = {"press": "hard", "water": "same", "solvent": "strings"}
    parting = parted("tacky-undercure", "tacky-adhesive", said)
    assert parting.test is None or parting.test.key not in ("solvent-spot", "nail")
    assert "Solvent spot: done, solvent brings amber strings." in parting.not_now


def test_the_only_one_left_is_held_against_its_look_alike_and_not_against_what_fell_out():
    said = {"feel": "sticky", "water": "same", "press": "hard", "solvent": "strings"}
    state = look(said, KINDS, DATA)
    leader = state.standings[0].kind

    assert [one.kind.key for one in state.still_in] == ["tacky-adhesive"]
    assert state.runner_up.kind.key in {alike.kind for alike in leader.unlike}


def test_with_two_left_the_leader_is_held_against_the_second():
    state = look({"feel": "sticky", "water": "same", "press": "dents"}, KINDS, DATA)

    assert len(state.still_in) > 1
    assert state.runner_up == state.standings[1]


def test_kinds_that_no_entry_compares_are_parted_by_the_question_that_tells_most():
    by_key = {kind.key: kind for kind in KINDS}

    parting = part(by_key["warp"], by_key["pinholes-tool"], DATA)

    assert by_key["warp"].title in parting.tell
    assert by_key["pinholes-tool"].title in parting.tell


@pytest.mark.parametrize(
    ("known", "answers"),
    [
        ({"face": "tool side"}, {"face": "tool"}),
        ({"face": "bag side", "mark": "line"}, {"face": "bag", "shape": "line"}),
        ({"face": "core"}, {"face": "inside"}),
        ({"face": "other"}, {}),
        ({"measured": "round"}, {"shape": "spots"}),
        ({"measured": "irregular", "mark": "point"}, {"shape": "patch"}),
        ({"mark": "outline"}, {"shape": "patch"}),
        ({"mark": "box"}, {}),
        ({}, {}),
    ],
)
def test_what_is_known_answers_by_itself(known, answers):
    assert answers_from(**known) == answers
    for question, answer in answers.items():
        DATA.question(question).answer(answer)


# A kind of a shop that says its face, shape and colour, and nothing else.
GREEN = {"face": ["tool"], "shape": ["pattern"], "colour": ["foreign"]}


def with_own(said: Mapping[str, Sequence[str]]):
    own = replace(KINDS[0], key="own-kelp", title="Kelp print", unlike=())
    return (*KINDS, own), with_shop(DATA, {"own-kelp": said})


def test_a_kind_of_the_shop_is_reached_by_its_answers():
    kinds_here, data = with_own(GREEN)
    said = {}
    while question := look(said, kinds_here, data).question:
        said[question.key] = GREEN.get(question.key, [question.plain or DONT_KNOW])[0]

    state = look(said, kinds_here, data)
    assert len(said) <= MOST_QUESTIONS
    assert state.standings[0].kind.key == "own-kelp"
    assert "a foreign colour" in state.standings[0].why


def test_what_a_shop_did_not_say_leaves_its_kind_at_the_share_it_has():
    kinds_here, data = with_own(GREEN)
    keys = [kind.key for kind in kinds_here]

    for answer in DATA.question("tap").answers:
        # It answers as the guide's kinds do on average: its share stays 1 of all.
        shares = posterior({"tap": answer.key}, keys, data)
        assert shares["own-kelp"] == pytest.approx(1 / len(keys))
    standing = next(
        one
        for one in look({"tap": "dull"}, kinds_here, data).standings
        if one.kind.key == "own-kelp"
    )
    assert standing.why == "Nothing speaks for or against it yet."


@pytest.mark.parametrize("said", [{}, {"face": []}, {"moon": ["full"]}, {"face": ["moon"]}])
def test_a_kind_that_says_nothing_the_key_knows_is_not_in_it(said):
    _, data = with_own(said)

    assert data.signs.keys() == DATA.signs.keys()


def test_every_kind_of_the_guide_is_still_reached_with_the_shop_s_beside_it():
    kinds_here, data = with_own(GREEN)
    for kind in KEYS:
        said = {}
        while question := look(said, kinds_here, data).question:
            said[question.key] = usual(kind, question.key)[0]
        assert look(said, kinds_here, data).standings[0].kind.key == kind, said
