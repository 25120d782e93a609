import pytest

from defectlog.bench.build_sets import (
    BuildSet,
    choose_builds,
    facts_of,
    part_choices,
    read_numbers,
    set_choices,
)
from defectlog.errors import FieldError, NotFoundError
from tests.builders import make_build, make_part

BAGGED = {"process": "bagged-wet-layup"}
INFUSED = {"process": "infusion"}


def test_builds_are_chosen_by_part_mould_process_material_and_number(session):
    lid = make_part(session, "Day-hatch lid", mould="M1")
    door = make_part(session, "Locker door", mould="M2")
    cloth = [{"material": "twill é", "areal_weight_g_m2": 200.0, "orientation": "", "face": ""}]
    a = make_build(session, lid, **BAGGED, resin_system="R 1", plies=cloth)
    b = make_build(session, lid, **INFUSED, resin_system="R 2", cloth_batch="roll 4")
    c = make_build(session, door, **INFUSED, resin_system="R 1")

    def numbers(**asked):
        return choose_builds(session, BuildSet(**asked)).numbers

    assert numbers() == [a.id, b.id, c.id]
    assert numbers(part=lid.id) == [a.id, b.id]
    assert numbers(mould="M2") == [c.id]
    assert numbers(process="infusion") == [b.id, c.id]
    assert numbers(material="R 1") == [a.id, c.id]
    assert numbers(material="twill é") == [a.id]
    assert numbers(material="twill") == []
    assert numbers(material="roll 4") == [b.id]
    assert numbers(builds=f"{a.id}, {c.id}-999") == [a.id, c.id]
    assert numbers(process="infusion", mould="M1") == [b.id]


def test_only_what_was_used_is_offered_to_choose_by(session):
    cloth = [{"material": "twill", "areal_weight_g_m2": 200.0, "orientation": "", "face": ""}]
    part = make_part(session, mould="M1")
    make_build(session, part, **INFUSED, resin_system="R 1", resin_batch="B 7", plies=cloth)

    choices = set_choices(session)

    assert choices.moulds == (("M1", "M1"),)
    assert ("infusion", "vacuum infusion") in choices.processes
    assert choices.materials == ("B 7", "R 1", "twill")


@pytest.mark.parametrize("text", ["x", "3-", "9-3", "1-5000", "1 -- 2"])
def test_what_is_no_list_of_builds_is_refused(text):
    with pytest.raises(FieldError):
        read_numbers(text)


def test_a_list_of_builds_is_read_as_people_type_it():
    assert read_numbers("3, 7 - 9;12") == {3, 7, 8, 9, 12}


def test_the_newest_builds_are_shown_when_there_are_very_many(session):
    part = make_part(session)
    builds = [make_build(session, part) for _ in range(3)]

    chosen = choose_builds(session, BuildSet(), most=2)

    assert chosen.numbers == [builds[1].id, builds[2].id]
    assert chosen.older == 1


def test_a_set_that_cannot_be_is_refused(session):
    with pytest.raises(NotFoundError):
        choose_builds(session, BuildSet(part=99))
    with pytest.raises(FieldError):
        choose_builds(session, BuildSet(process="magic"))


def test_a_set_named_by_hand_carries_its_name(session):
    make_build(session)

    assert choose_builds(session, BuildSet(builds="1", name=" Winter ")).words == "Winter"
    assert choose_builds(session, BuildSet(builds="1-2")).words.endswith("builds chosen by hand")
    assert choose_builds(session, BuildSet()).words == "all parts"


def test_facts_are_those_asked_for(session):
    build = make_build(session, **INFUSED, ambient_c=20.0)

    assert facts_of(session, [build.id]) == {build.id: {**INFUSED, "ambient_c": 20.0}}
    assert facts_of(session, [build.id], ["process"]) == {build.id: INFUSED}
    assert facts_of(session, []) == {}


def test_parts_come_with_most_builds_first(session):
    make_part(session, "Hatch")
    busy = make_part(session, "Rudder")
    make_build(session, busy)

    choices = part_choices(session)

    assert [(choice.name, choice.builds) for choice in choices] == [("Rudder", 1), ("Hatch", 0)]
