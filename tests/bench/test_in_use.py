"""Records that a running defectlog works with are not replaced under it."""

import subprocess
import sys
from pathlib import Path

import pytest

from defectlog.bench.in_use import InUseError, see_that_nobody_uses, use
from defectlog.bench.restore import restore
from defectlog.web import create_app
from tests.bench.test_backup import backed_up
from tests.workshops import LATER, make_workshop

HOLD = (
    "import sys, pathlib; from defectlog.bench.in_use import use; "
    "held = use(pathlib.Path(sys.argv[1])); print('held', flush=True); sys.stdin.read()"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "workshop"


def test_records_are_not_replaced_while_an_app_runs_on_them(folder: Path, tmp_path: Path) -> None:
    kept = make_workshop(folder)
    archive = backed_up(kept, tmp_path / "backup.zip")
    kept.records.close()
    app = create_app(folder)
    before = {file: file.read_bytes() for file in folder.rglob("*.sqlite")}

    with pytest.raises(InUseError, match="runs on the records.*stop it first"):
        restore(archive, folder, at=LATER, replaces=True)

    assert {file: file.read_bytes() for file in folder.rglob("*.sqlite")} == before
    assert {place.name for place in tmp_path.iterdir()} == {"workshop", "backup.zip"}
    app.extensions["defectlog"][0].close()
    app.extensions["defectlog in use"].close()
    assert restore(archive, folder, at=LATER, replaces=True).kept_beside


def test_several_may_work_and_the_last_one_frees_the_records(tmp_path: Path) -> None:
    first, second = use(tmp_path), use(tmp_path)
    first.close()

    with pytest.raises(InUseError):
        see_that_nobody_uses(tmp_path)
    second.close()
    see_that_nobody_uses(tmp_path)


def test_a_killed_process_frees_the_records(tmp_path: Path) -> None:
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen([sys.executable, "-c", HOLD, tmp_path], **pipes) as process:
        assert process.stdout.readline() == b"held\n"
        with pytest.raises(InUseError):
            see_that_nobody_uses(tmp_path)

        process.kill()

    see_that_nobody_uses(tmp_path)


def test_a_folder_nobody_worked_with_is_free(tmp_path: Path) -> None:
    see_that_nobody_uses(tmp_path)
    assert list(tmp_path.iterdir()) == []
