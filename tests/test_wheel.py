"""The wheel built from the source archive works outside the checkout, screens and all."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

ASK = """
import sys
from pathlib import Path
import defectlog
from defectlog.web import create_app
from defectlog.report.scale_card import scale_card_pdf
where = Path(defectlog.__file__).parent
assert where.is_relative_to(sys.argv[1]), where
app = create_app(Path(sys.argv[2]))
client = app.test_client()
for address in ("/", "/guide/", "/guide/dry-spot", "/static/css/tokens.css",
                "/static/vendor/openseadragon/openseadragon.min.js"):
    answer = client.get(address)
    assert answer.status_code == 200, (address, answer.status_code, answer.text[:500])
assert scale_card_pdf("a4").startswith(b"%PDF")
print("works")
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Source archive first, then the wheel from it, as for a release."""
    out = tmp_path_factory.mktemp("dist")
    done = subprocess.run(
        [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(ROOT)],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    (made,) = out.glob("*.whl")
    return made


def test_the_wheel_holds_screens_and_knowledge_and_no_screenshots(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    for needed in (
        "defectlog/_web/templates/base.html",
        "defectlog/_web/static/css/tokens.css",
        "defectlog/guide/entries/dry-spot.toml",
        "defectlog/facts.toml",
        "defectlog/records/migrations/env.py",
    ):
        assert needed in names
    assert not [name for name in names if "screenshots" in name or name.startswith("tests")]


def test_the_installed_wheel_answers_from_anywhere(wheel: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", site, wheel],
        check=True,
    )
    done = subprocess.run(
        [sys.executable, "-c", ASK, str(site), str(tmp_path / "workshop")],
        cwd="/",
        env=os.environ | {"PYTHONPATH": str(site)},
        capture_output=True,
        text=True,
    )
    assert done.stdout.strip() == "works", done.stderr[-3000:]
