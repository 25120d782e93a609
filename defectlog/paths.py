"""Where the templates and static files lie: inside the wheel, or beside the source tree."""

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def web_folder(name: str) -> Path:
    """Find ``templates`` or ``static``; the wheel's own copy comes first.

    Another package may drop a top-level ``static`` into site-packages, which must not win.
    """
    for base in (_HERE / "_web", _HERE.parent):
        if (base / name).is_dir():
            return base / name
    raise RuntimeError(f"{name}/ is missing: the installation is broken, install defectlog again")
