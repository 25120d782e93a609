"""The dependency audit: a known hole is red; no answer is not, but never passes for none found."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).parent.parent / ".ci" / "audit.py"


@pytest.fixture(scope="module")
def audit() -> ModuleType:
    if not SCRIPT.is_file():
        pytest.skip("not in a checkout")
    spec = importlib.util.spec_from_file_location("audit", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# As pip-audit writes them with --format json (its README, "Output formats").
SOUND = {"name": "flask", "version": "3.1.3", "vulns": []}
HOLED = {
    "name": "pillow",
    "version": "9.0.0",
    "vulns": [{"id": "PYSEC-2022-168", "fix_versions": ["9.0.1"], "description": ""}],
}
UNKNOWN = {"name": "segno", "skip_reason": "Dependency not found on PyPI"}


@pytest.mark.parametrize(
    ("found", "status", "words"),
    [
        ([SOUND], 0, "0 known holes in 1 packages"),
        ([SOUND, HOLED], 1, "pillow 9.0.0: PYSEC-2022-168, mended in 9.0.1"),
        ([SOUND, UNKNOWN], 0, "1 could not be looked at"),
        ([UNKNOWN, UNKNOWN], 0, "SKIPPED"),
        ([], 0, "SKIPPED"),
    ],
)
def test_what_is_found_decides(
    audit: ModuleType, capsys: pytest.CaptureFixture[str], found: list, status: int, words: str
) -> None:
    assert audit.tell(found) == status
    assert words in capsys.readouterr().out
