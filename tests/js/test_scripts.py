"""The scripts of the screens that need no browser, run by node."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

HERE = Path(__file__).parent
# From these versions on node sees by itself that a .js file is a module.
MODULES_SINCE = {20: (20, 19), 22: (22, 7)}


def test_the_scripts_do_what_their_own_tests_say():
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed; the scripts are then tested in the browser alone")
    shown = subprocess.run([node, "--version"], capture_output=True, text=True, check=True).stdout
    version = tuple(int(part) for part in re.findall(r"\d+", shown)[:2])
    if version < MODULES_SINCE.get(version[0], (23, 0)):
        pytest.skip(f"node {shown.strip()} is too old to run modules without being told")
    files = sorted(str(file) for file in HERE.rglob("*.test.js"))

    run = subprocess.run([node, "--test", *files], capture_output=True, text=True, check=False)

    assert files
    assert run.returncode == 0, run.stdout
