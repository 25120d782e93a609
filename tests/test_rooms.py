"""The rooms and the direction of their arrows: imports go downwards, never up or sideways."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "defectlog"

FLOORS = (
    {"errors", "units", "facts", "derived", "disk", "paths"},
    {"measure", "charts", "laminate", "guide"},
    {"records", "photos", "report"},
    {"bench"},
    {"web", "demo"},
    {"commands"},
    {"cli"},
    {"__main__"},
)
# Measuring has rooms of its own, and its steps in order above them.
MEASURE_FLOORS = (
    {"arrays"},
    {"lengths", "outlines"},
    {"cloth"},
    {"patches"},
    {"candidates"},
    {"figures"},
    {"search"},
)
MEASURE_FLOOR_OF = {room: floor for floor, rooms in enumerate(MEASURE_FLOORS) for room in rooms}
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
PURE = FLOORS[1]
NOT_FOR_THE_PURE = {"flask", "sqlalchemy", "alembic", "PIL", "werkzeug", "click"}


def room_of(file: Path) -> str:
    return file.relative_to(ROOT).parts[0].removesuffix(".py")


def imports_of(file: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file} imports relatively"
            yield node.module or ""
            if node.module == "defectlog":
                yield from (f"defectlog.{alias.name}" for alias in node.names)


def python_files() -> list[Path]:
    files = [f for f in ROOT.rglob("*.py") if "versions" not in f.parts and f.name != "__init__.py"]
    return files + [f for f in ROOT.rglob("__init__.py") if f.parent != ROOT]


def test_every_file_lies_in_a_room_with_a_floor() -> None:
    assert {room_of(file) for file in python_files()} == set(FLOOR_OF)


@pytest.mark.parametrize("file", python_files(), ids=lambda f: str(f.relative_to(ROOT)))
def test_no_arrow_points_up_or_sideways(file: Path) -> None:
    own = room_of(file)
    for name in imports_of(file):
        parts = name.split(".")
        if parts[0] != "defectlog" or len(parts) < 2 or parts[1] == "__version__":
            continue
        other = parts[1]
        assert other == own or FLOOR_OF[other] < FLOOR_OF[own] or not FLOOR_OF[own], (
            f"{file.relative_to(ROOT)} in {own} imports {name}"
        )


@pytest.mark.parametrize(
    "file", [f for f in python_files() if room_of(f) in PURE], ids=lambda f: f.name
)
def test_the_pure_rooms_know_no_web_and_no_records(file: Path) -> None:
    assert not {name.split(".")[0] for name in imports_of(file)} & NOT_FOR_THE_PURE


@pytest.mark.parametrize(
    "file", [f for f in python_files() if room_of(f) == "web"], ids=lambda f: f.name
)
def test_views_write_no_queries(file: Path) -> None:
    assert not {n for n in imports_of(file) if n in ("sqlalchemy", "sqlalchemy.sql")}


def test_opencv_never_reads_a_file() -> None:
    # Its readers have no sane limits and turn photos by other rules than ours.
    for file in python_files():
        text = file.read_text("utf-8")
        assert "cv2.imread" not in text, file
        assert "cv2.imdecode" not in text, file


MEASURE = ROOT / "measure"


def rooms_of_measure() -> set[str]:
    return {folder.name for folder in MEASURE.iterdir() if (folder / "__init__.py").exists()}


def test_every_room_of_measuring_has_a_floor() -> None:
    assert rooms_of_measure() == set(MEASURE_FLOOR_OF)


@pytest.mark.parametrize("room", sorted(MEASURE_FLOOR_OF))
def test_no_room_of_measuring_looks_up_or_sideways(room: str) -> None:
    for file in (MEASURE / room).glob("*.py"):
        for name in imports_of(file):
            parts = name.split(".")
            if parts[:2] != ["defectlog", "measure"] or len(parts) < 3 or parts[2] == room:
                continue
            assert parts[2] in MEASURE_FLOOR_OF, f"{file.name} imports {name} from above"
            assert MEASURE_FLOOR_OF[parts[2]] < MEASURE_FLOOR_OF[room], (
                f"{file.name} imports {name}"
            )
