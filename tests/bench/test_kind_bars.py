from defectlog.bench.build_sets import BuildSet, choose_builds
from defectlog.bench.kind_bars import findings_of_kind, kind_bars, kind_table
from defectlog.units import NBSP
from tests.builders import NOON, make_finding, make_part, make_photo
from tests.measured import add_build


def plain(words: str) -> str:
    return words.replace(NBSP, " ")


def of(session, part):
    return choose_builds(session, BuildSet(part=part.id))


def bars_of(session, part):
    return kind_bars(session, of(session, part))


def test_findings_are_counted_by_kind_with_their_interval(session):
    # 9 of 10: Wilson 95 % interval 59.6 to 98.2 % (by hand: (0.9 + 0.19207 ± 1.96 sqrt(0.009 +
    # 0.009604)) / 1.38415), which the interval of 1 of 10 (1.8 to 40 %) does not reach.
    part = make_part(session)
    photo = make_photo(session, add_build(session, part, None))
    for _ in range(9):
        make_finding(session, photo, kind="dry-spot")
    last = make_finding(session, photo, kind="pinholes-tool")

    trend = bars_of(session, part)

    assert [(bar.key, bar.count) for bar in trend.bars] == [("dry-spot", 9), ("pinholes-tool", 1)]
    assert plain(trend.sentence).endswith("9 of 10 findings, 90 %, 95 % interval 60 to 98 %.")
    assert kind_table(trend)[1][:2] == ["dry-spot", 9]
    assert findings_of_kind(session, of(session, part), "pinholes-tool") == [last]


def test_kinds_that_may_be_as_frequent_are_named(session):
    part = make_part(session)
    photo = make_photo(session, add_build(session, part, None))
    for kind in ["dry-spot"] * 3 + ["pinholes-tool"] * 2:
        make_finding(session, photo, kind=kind)

    assert "may be as frequent" in bars_of(session, part).sentence


def test_few_or_no_findings_are_told_as_such(session):
    part = make_part(session)
    build = add_build(session, part, None)

    assert plain(bars_of(session, part).sentence) == ("No finding on 1 build (Locker door).")
    make_finding(session, make_photo(session, build))
    assert "too few to say" in bars_of(session, part).sentence


def test_without_a_build_it_is_the_build_that_is_missing(session):
    make_part(session)

    sentence = kind_bars(session, choose_builds(session, BuildSet(builds="99"))).sentence

    assert sentence.startswith("No build to count findings on (")


def test_deleted_findings_do_not_count(session):
    part = make_part(session)
    finding = make_finding(session, make_photo(session, add_build(session, part, None)))
    finding.deleted_at = NOON
    session.flush()

    assert bars_of(session, part).bars == ()
