"""Sets of builds and what limits rest on are asked for in SQL: the same on both databases."""

from defectlog.bench import build_sets, first_builds
from defectlog.bench.build_sets import BuildSet, choose_builds, set_choices
from defectlog.bench.results import find_result
from defectlog.bench.series import result_series
from defectlog.records.migrating import migrate
from tests.builders import make_build, make_part


def test_a_large_set_rests_on_its_first_builds_on_either_database(empty_records, monkeypatch):
    monkeypatch.setattr(
        first_builds,
        "choose_builds",
        lambda session, wanted: build_sets.choose_builds(session, wanted, most=6),
    )
    migrate(empty_records.engine)
    cloth = [{"material": "twill é", "areal_weight_g_m2": 200.0, "orientation": "", "face": ""}]
    with empty_records.write() as session:
        part = make_part(session, mould="M1")
        for process, minutes in (("bagged-wet-layup", 200), ("infusion", 100)):
            for extra in range(26):
                facts = {"process": process, "effort_min": minutes + extra % 3, "plies": cloth}
                make_build(session, part, **facts)
        wanted = BuildSet(process="infusion", material="twill é", mould="M1")

        series = result_series(session, BuildSet(material="twill é"), find_result("effort"))

        assert len(choose_builds(session, wanted).made) == 26
        assert set_choices(session).materials == ("twill é",)
        # Infusion began with build 27: its first twenty set the limits of the newest six.
        assert [point.number for point in series.points] == [*range(27, 53)]
        assert series.changes[0].short == "vacuum infusion"
        assert series.points[-1].centre < 103
