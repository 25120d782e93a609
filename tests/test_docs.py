"""What README and DEVELOPERS say is true: commands, test line, pictures, folders."""

import re
from pathlib import Path

import pytest

from defectlog.cli import cli
from defectlog.guide import library

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def test_the_readme_opens_with_the_job() -> None:
    assert README.split("\n\n")[1].startswith("**The job.**")


def test_every_command_is_in_the_readme_and_every_one_there_exists() -> None:
    shown = set(re.findall(r"^    defectlog (\w+)", README, flags=re.M))
    assert shown == set(cli.commands)


def test_every_option_the_readme_shows_exists() -> None:
    for line in re.findall(r"^    defectlog (.+?)(?:  |$)", README, flags=re.M):
        command, *words = line.split()
        known = {name for param in cli.commands[command].params for name in param.opts}
        assert {word for word in words if word.startswith("-")} <= known, line


def test_integration_runs_the_readmes_test_command() -> None:
    command = re.search(r"## Test\n\n    (python3 .+)\n", README)
    assert command
    assert command[1] in (ROOT / ".ci/run").read_text().splitlines()


def test_every_promise_names_a_test_that_is_there() -> None:
    table = README.split("## What we promise")[1].split("\n## ")[0]
    rows = [line.split("|") for line in table.splitlines() if line.startswith("| ")][1:]
    assert len(rows) > 10
    for _, promise, held_by, _ in rows:
        named = re.findall(r"`(tests/[\w./]+\.py)`|python -m (tests[\w.]+)", held_by)
        assert named, promise
        for file, module in named:
            assert (ROOT / (file or module.replace(".", "/") + ".py")).is_file(), promise


@pytest.mark.parametrize("picture", re.findall(r"!\[[^]]*\]\(([^)]+)\)", README))
def test_every_picture_of_the_readme_is_there(picture: str) -> None:
    assert (ROOT / picture).is_file()


def test_the_number_of_kinds_is_that_of_the_guide() -> None:
    assert len(library.kinds()) == 35
    assert "Thirty-five kinds" in README


@pytest.mark.parametrize(
    "path", re.findall(r"`((?:defectlog|static|templates|tests)/[\w./-]+)`", README)
)
def test_every_path_of_the_readme_exists(path: str) -> None:
    assert (ROOT / path).exists()


@pytest.mark.parametrize(
    "path", re.findall(r"`((?:defectlog|static|templates|tests)/[\w./-]+)`", DEVELOPERS)
)
def test_every_path_of_the_contributors_guide_exists(path: str) -> None:
    assert (ROOT / path).exists()
