"""The guide on the command line knows what the workshop knows, and makes nothing of its own."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from defectlog.bench.decisions import judge_cause
from defectlog.bench.findings import open_finding
from defectlog.bench.house_notes import add_note
from defectlog.bench.own_causes import OwnCausePlan, save_own_cause
from defectlog.bench.own_kinds import OwnKindPlan, save_own_kind
from defectlog.cli import cli
from defectlog.commands import asking
from defectlog.guide import library
from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address
from tests.builders import NOON, make_build


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A folder with records, and the key of its own kind."""
    folder = tmp_path_factory.mktemp("shop")
    records = Records(sqlite_address(folder / "records.sqlite"))
    migrate(records.engine)
    with records.write() as session, session.begin():
        plan = OwnKindPlan("Kelp print", "KP", "Green.", "Weed on the mould shows through.")
        key = save_own_kind(session, plan, at=NOON).key
        save_own_cause(session, key, OwnCausePlan("Mould not scrubbed"), at=NOON)
        add_note(session, "dry-spot", "Under the crayfish insert.", at=NOON)
        build = make_build(session)
        for _ in range(4):
            finding = open_finding(session, build.id, "dry-spot", NOON)
            judge_cause(session, finding.id, "gelled-before-arrival", True, seen="", at=NOON)
    records.close()
    return folder, key


def test_why_and_guide_know_the_kinds_of_the_shop(shop: tuple[Path, str]) -> None:
    folder, key = shop
    ranked = json.loads(run("why", key, "--folder", folder, "--json").stdout)
    assert [cause["title"] for cause in ranked["causes"]][0] == "Mould not scrubbed"

    words = run("guide", key, "--folder", folder).stdout
    assert "Kelp print (KP)" in words and "Tell it apart" not in words
    assert key in run("guide", "--folder", folder).stdout
    found = json.loads(run("guide", "--search", "crayfsh", "--folder", folder, "--json").stdout)
    assert [kind["kind"] for kind in found["kinds"]] == ["dry-spot"]


def test_why_counts_the_cases_of_the_shop(shop: tuple[Path, str]) -> None:
    def share(*more: object) -> float:
        told = json.loads(run("why", "dry-spot", "--json", *more).stdout)
        return next(
            one["share"] for one in told["causes"] if one["cause"] == "gelled-before-arrival"
        )

    # The prior is worth ten cases: (10 p + 4) / (10 + 4), shares being told to a thousandth.
    assert share("--folder", shop[0]) == pytest.approx((10 * share() + 4) / 14, abs=0.002)


def test_without_a_folder_the_usual_one_is_asked_if_it_has_records(
    shop: tuple[Path, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asking, "HOME", shop[0])
    assert run("why", shop[1]).exit_code == 0
    monkeypatch.setattr(asking, "HOME", tmp_path / "none")
    assert run("why", shop[1]).exit_code == 2
    assert run("why", "dry-spot").exit_code == 0
    assert not (tmp_path / "none").exists()


def test_a_folder_without_records_is_refused_and_not_made(tmp_path: Path) -> None:
    folder = tmp_path / "nowhere"
    for words in (["why", "dry-spot"], ["guide"]):
        result = run(*words, "--folder", folder)
        assert result.exit_code == 2 and "There are no records in" in result.stderr
    assert not folder.exists()


def test_records_of_an_earlier_version_are_left_alone_and_that_is_said(tmp_path: Path) -> None:
    records = Records(sqlite_address(tmp_path / "records.sqlite"))
    migrate(records.engine, step="0004")
    records.close()
    before = (tmp_path / "records.sqlite").read_bytes()

    result = run("guide", "--folder", tmp_path)
    assert result.exit_code == 0 and "are of another version and were left out" in result.stderr
    assert len(result.stdout.splitlines()) == len(library.kinds())
    assert (tmp_path / "records.sqlite").read_bytes() == before


def test_without_records_no_table_is_imported(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path\n"
        "from defectlog.commands import asking; from defectlog.cli import cli\n"
        f"asking.HOME = Path({str(tmp_path)!r})\n"
        "cli(['why', 'dry-spot', '--json'], standalone_mode=False)\n"
        "assert not {'sqlalchemy', 'flask', 'alembic', 'cv2'} & set(sys.modules), sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
