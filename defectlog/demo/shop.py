"""Heron Slip itself: the story played through the bench, as the two people there would have."""

import json
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from defectlog.demo.bookkeeping import Bookkeeper
from defectlog.demo.conditions import clock_of
from defectlog.demo.darkroom import AT_ONCE, Order, develop_all
from defectlog.demo.hours import Clock
from defectlog.demo.plot import BuildPlan
from defectlog.demo.recipes import RECIPES
from defectlog.demo.shots import Shot, shots_of
from defectlog.demo.story import BUILDS
from defectlog.errors import DefectlogError
from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address

# Raised whenever the story or its pictures change, so that an older demo is made anew.
VERSION = 5
MARKER = "demo.json"
_STALE_S = 3600.0

Progress = Callable[[float, str], None]


class NotOurFolderError(DefectlogError):
    """The folder for the demo holds something that is no demo."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        super().__init__(
            f"{folder} holds something else than the invented workshop",
            "name an empty or a new folder for it",
        )


def ensure_demo(folder: Path, progress: Progress) -> Path:
    """The folder of the invented workshop, made now unless it is there already.

    Raises
    ------
    NotOurFolderError
        If the folder holds something that is no demo.
    """
    if _version_in(folder) == VERSION:
        return folder
    return build(folder, progress)


def build(
    folder: Path,
    progress: Progress,
    *,
    plans: Sequence[BuildPlan] = BUILDS,
    now: datetime | None = None,
    processes: int = AT_ONCE,
) -> Path:
    """Make the invented workshop in ``folder``, whole or not at all.

    It is made beside the folder and renamed at the end, so that an interrupted build leaves
    nothing that looks finished. A demo of an older version is moved aside, not deleted.
    """
    folder = folder.absolute()
    if folder.exists() and any(folder.iterdir()) and _version_in(folder) is None:
        raise NotOurFolderError(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    _clear_stale(folder)
    making = Path(tempfile.mkdtemp(prefix=_prefix(folder), dir=folder.parent))
    try:
        _play(making, progress, plans, now or datetime.now(UTC), processes)
        marker = {"version": VERSION, "builds": len(plans)}
        (making / MARKER).write_text(json.dumps(marker), "utf-8")
        _put_in_place(making, folder)
    finally:
        shutil.rmtree(making, ignore_errors=True)
    progress(1.0, "ready")
    return folder


def _play(
    making: Path,
    progress: Progress,
    plans: Sequence[BuildPlan],
    now: datetime,
    processes: int,
) -> None:
    progress(0.0, "clearing the bench")
    records = Records(sqlite_address(making / "records.sqlite"))
    try:
        migrate(records.engine)
        keeper = Bookkeeper(records, now)
        keeper.open_shop()
        days = _working_days(plans, now)
        shots = [shots_of(plan, n, RECIPES[plan.part]) for n, plan in enumerate(plans, 1)]
        clocks = [
            clock_of(plan, n, RECIPES[plan.part], day)
            for n, (plan, day) in enumerate(zip(plans, days, strict=True), 1)
        ]
        orders = list(_orders(shots, clocks, making / "photos"))
        prints = develop_all(orders, processes=processes)
        done = 0
        for number, (plan, taken, clock) in enumerate(zip(plans, shots, clocks, strict=True), 1):
            own = [(shot, next(prints)) for shot in taken]
            keeper.enter(number, plan, clock, own)
            done += len(own)
            name = RECIPES[plan.part].plan.name
            progress(0.99 * done / max(1, len(orders)), f"build {number}: {name.lower()}")
        keeper.settle_trials()
        keeper.settle_lessons()
    finally:
        records.close()


def _orders(
    shots: Sequence[Sequence[Shot]], clocks: Sequence[Clock], photos: Path
) -> Iterator[Order]:
    for taken, clock in zip(shots, clocks, strict=True):
        for shot in taken:
            yield Order(shot, clock.taken(shot), photos)


def _working_days(plans: Sequence[BuildPlan], now: datetime) -> list[datetime]:
    """The morning each build was started, in order.

    Nobody starts on a Friday or a weekend, when nobody would demould the day after, unless that
    was yesterday.
    """
    days = []
    for plan in plans:
        day = (now - timedelta(days=plan.days_ago)).replace(
            hour=8, minute=40, second=0, microsecond=0
        )
        if plan.days_ago > 1:
            day -= timedelta(days=max(0, day.weekday() - 3))
        days.append(day)
    return days


def _version_in(folder: Path) -> int | None:
    """The version of the demo in a folder, or nothing if it holds none."""
    try:
        version = json.loads((folder / MARKER).read_text("utf-8"))["version"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return version if isinstance(version, int) else None


def _prefix(folder: Path) -> str:
    return f".{folder.name}-unfinished-"


def _clear_stale(folder: Path) -> None:
    """Take away what builds that were cut off an hour or longer ago left behind."""
    for left in folder.parent.glob(f"{_prefix(folder)}*"):
        with suppress(OSError):
            if time.time() - left.stat().st_mtime > _STALE_S:
                shutil.rmtree(left, ignore_errors=True)


def _put_in_place(making: Path, folder: Path) -> None:
    if folder.exists():
        if _version_in(folder) == VERSION:
            return  # another start was quicker
        if any(folder.iterdir()):
            aside = Path(tempfile.mkdtemp(prefix=f"{folder.name}-earlier-", dir=folder.parent))
            os.replace(folder, aside)
        else:
            folder.rmdir()
    os.replace(making, folder)
