"""Ask the public advisories whether a package this project is built on has a known hole.

    python3 .ci/audit.py [SITE_PACKAGES]

Ends with 1 if one has. Where the advisories cannot be reached it says so and ends with 0: no answer
is no reason to stop work, but it is never taken for "nothing found".
"""

import json
import subprocess
import sys
import sysconfig
import tempfile
import venv
from pathlib import Path

PATIENCE_S = 300


def skipped(why: str) -> int:
    print(f"dependency audit: SKIPPED, {why.strip() or 'no reason given'}")
    return 0


def main() -> int:
    packages = sys.argv[1] if len(sys.argv) > 1 else sysconfig.get_paths()["purelib"]
    with tempfile.TemporaryDirectory() as folder:
        # In an environment of its own, so that only what we ship with is looked at.
        venv.create(folder, with_pip=True)
        python = str(Path(folder) / ("Scripts" if sys.platform == "win32" else "bin") / "python")
        try:
            install = run(python, "-m", "pip", "install", "-q", "pip-audit>=2.9")
            if install.returncode:
                return skipped(f"pip-audit cannot be installed: {last_line(install.stderr)}")
            asked = run(
                *(python, "-m", "pip_audit", "--path", packages, "--skip-editable"),
                *("--format", "json", "--progress-spinner", "off", "--timeout", "20"),
            )
        except subprocess.TimeoutExpired:
            return skipped(f"no answer within {PATIENCE_S} s")
    try:
        found = json.loads(asked.stdout)["dependencies"]
    except (ValueError, KeyError, TypeError):
        return skipped(f"the advisories cannot be reached: {last_line(asked.stderr)}")
    return tell(found)


def tell(found: list[dict[str, object]]) -> int:
    holes = [
        f"{package['name']} {package['version']}: {hole['id']}, mended in "
        f"{', '.join(hole['fix_versions']) or 'no version yet'}"
        for package in found
        for hole in package.get("vulns", ())  # type: ignore[union-attr]
    ]
    looked_at = sum("vulns" in package for package in found)
    unknown = len(found) - looked_at
    if not looked_at:
        return skipped(f"the advisories know none of {unknown} packages: most likely a mirror")
    print(
        f"dependency audit: {len(holes)} known holes in {looked_at} packages"
        + (f", {unknown} could not be looked at" if unknown else "")
    )
    print("\n".join(holes))
    return 1 if holes else 0


def run(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S)


def last_line(words: str) -> str:
    return (words.strip().splitlines() or [""])[-1][:200]


if __name__ == "__main__":
    sys.exit(main())
