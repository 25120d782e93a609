"""Builds kept under a name."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.bin import BUILD, bring_back, delete_build
from defectlog.bench.kept_sets import drop_set, find_kept, keep_set, kept_sets
from defectlog.errors import FormError, NotFoundError
from defectlog.records import Build
from tests.builders import NOON, make_build, make_part


@pytest.fixture
def builds(session: Session) -> list[int]:
    part = make_part(session)
    return [make_build(session, part).id for _ in range(4)]


def test_a_set_is_kept_under_its_name_with_the_builds_there_are(session, builds) -> None:
    keep_set(session, "  The warm\nweek ", [builds[2], builds[0], 999], at=NOON)

    (kept,) = kept_sets(session)
    assert (kept.name, kept.builds) == ("The warm week", (builds[0], builds[2]))
    assert find_kept([kept], "The warm week", {builds[2], builds[0]}) == kept
    assert find_kept([kept], "The warm week", {builds[0]}) is None


def test_a_name_kept_again_holds_other_builds_only_if_asked_to(session, builds) -> None:
    first = keep_set(session, "Warm", builds[:2], at=NOON)
    with pytest.raises(FormError, match="is kept already"):
        keep_set(session, "Warm", builds[1:], at=NOON)
    again = keep_set(session, "Warm", builds[1:], at=NOON, may_replace=True)

    assert first is again
    assert [one.builds for one in kept_sets(session)] == [tuple(builds[1:])]


def test_sets_stand_by_their_names(session, builds) -> None:
    for name in ("warm", "After the leak", "Boats"):
        keep_set(session, name, builds, at=NOON)

    assert [one.name for one in kept_sets(session)] == ["After the leak", "Boats", "warm"]


def test_a_build_in_the_bin_is_out_of_its_sets_until_it_is_taken_out(session, builds) -> None:
    keep_set(session, "Warm", builds[:2], at=NOON)

    delete_build(session, builds[0], NOON)
    assert [one.builds for one in kept_sets(session)] == [(builds[1],)]

    bring_back(session, BUILD, builds[0])
    assert [one.builds for one in kept_sets(session)] == [tuple(builds[:2])]


def test_a_dropped_set_leaves_its_builds(session, builds) -> None:
    kept = keep_set(session, "Warm", builds, at=NOON)

    assert drop_set(session, kept.id) == "Warm"
    assert kept_sets(session) == () and session.query(Build).count() == 4
    with pytest.raises(NotFoundError):
        drop_set(session, kept.id)


@pytest.mark.parametrize(
    ("name", "chosen", "field"),
    [
        (" ", slice(4), "name"),
        ("x" * 61, slice(4), "name"),
        ("Warm", slice(0), "tick"),
    ],
)
def test_what_is_no_set_is_refused_at_its_field(session, builds, name, chosen, field) -> None:
    with pytest.raises(FormError) as refused:
        keep_set(session, name, builds[chosen], at=NOON)

    assert [fault.field for fault in refused.value.faults] == [field]
    assert kept_sets(session) == ()


def test_numbers_of_no_build_and_too_many_are_no_set(session, builds) -> None:
    for numbers in ([998, 999], range(1, 1002)):
        with pytest.raises(FormError):
            keep_set(session, "Warm", numbers, at=NOON)
