"""Long lists: what is shown and how many there are, whatever lies around them."""

from datetime import timedelta

from sqlalchemy import event
from sqlalchemy.orm import Session

from defectlog.bench.long_lists import (
    newest_builds,
    page_of_builds,
    page_of_findings,
    ready_for_list,
)
from defectlog.bench.sizes import finding_size
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


def test_a_page_of_builds_is_newest_first_and_counts_all(session: Session) -> None:
    part, other = make_part(session), make_part(session, "Bow bulkhead")
    builds = [make_build(session, part) for _ in range(5)]
    make_build(session, other)
    builds[1].released_at = NOON
    session.flush()

    page = page_of_builds(session, part.id, first=1, most=3)

    assert list(page.builds) == [builds[3], builds[2], builds[1]]
    assert (page.count, page.waiting) == (5, 4)
    assert page_of_builds(session, most=2).count == 6


def test_a_build_begun_earlier_stands_further_down_whatever_its_number(session: Session) -> None:
    part = make_part(session)
    first, late = make_build(session, part), make_build(session, part)
    late.started_at = NOON - timedelta(days=3)
    session.flush()

    assert page_of_builds(session, most=9).builds == (first, late)


def test_the_newest_build_of_each_part_is_found(session: Session) -> None:
    part, empty = make_part(session), make_part(session, "Bow bulkhead")
    make_build(session, part)
    newest = make_build(session, part)

    assert newest_builds(session, [part.id, empty.id]) == {part.id: newest}


def test_findings_are_counted_by_what_is_asked(session: Session) -> None:
    part, other = make_part(session), make_part(session, "Bow bulkhead")
    photos = [make_photo(session, make_build(session, of)) for of in (part, part, other)]
    kinds = ("dry-spot", "peel-tear", "dry-spot")
    found = [make_finding(session, p, kind=k) for p, k in zip(photos, kinds, strict=True)]
    make_finding(session, photos[0]).deleted_at = NOON
    session.flush()

    assert page_of_findings(session, most=2) == ([found[2], found[1]], 3)
    assert page_of_findings(session, kind="dry-spot", most=9) == ([found[2], found[0]], 2)
    assert page_of_findings(session, part_id=part.id, most=9) == ([found[1], found[0]], 2)
    assert page_of_findings(session, only_open=True, most=1) == ([found[2]], 3)


def test_lines_of_many_findings_ask_no_more_often_than_those_of_two(records) -> None:
    with records.write() as session, session.begin():
        part = make_part(session)
        for _ in range(12):
            make_finding(session, make_photo(session, make_build(session, part), px_per_mm=10.0))

    def asked(most: int) -> int:
        sent = []
        with records.read() as session:
            event.listen(
                records.engine,
                "before_cursor_execute",
                listener := (lambda *said: sent.append(said[2])),
            )
            found, _ = page_of_findings(session, most=most)
            for finding in ready_for_list(found):
                assert finding_size(finding).longest_mm == 10.0  # 100 px at 10 px/mm
                assert finding.build.part.limits == [] and finding.verdicts == []
            event.remove(records.engine, "before_cursor_execute", listener)
        return len(sent)

    assert asked(12) == asked(2)


def test_no_findings_are_ready_at_once() -> None:
    assert list(ready_for_list([])) == []
