"""Any order of things a person does, with restores and restarts in between, ends in sound records.

python -m tests.faults.sequences --runs 200 --steps 40
"""

import argparse
import shutil
import tempfile
from datetime import timedelta
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from defectlog.bench import bin as the_bin
from defectlog.bench.backup import write_backup
from defectlog.bench.decisions import decide, save_note
from defectlog.bench.findings import add_mark
from defectlog.bench.photos import delete_photo
from defectlog.bench.restore import restore
from defectlog.bench.upkeep import opened
from defectlog.bench.verify import verify
from defectlog.errors import DefectlogError
from defectlog.records import Build, Finding, Outcome, Photo, Shape
from tests.builders import NOON
from tests.measured import add_measurement
from tests.workshops import make_workshop, take_photo

SEEDS = st.integers(0, 5)
NUMBERS = st.integers(1, 6)
_TEMPLATE: list[Path] = []


def template() -> Path:
    """A workshop to start from, made once."""
    if not _TEMPLATE:
        folder = Path(tempfile.mkdtemp()) / "workshop"
        make_workshop(folder, photos=1).records.close()
        _TEMPLATE.append(folder)
    return _TEMPLATE[0]


class Shop(RuleBasedStateMachine):
    """A workshop, and a model of it: which photos are on the build, and which are in the bin."""

    @initialize()
    def begin(self) -> None:
        self.base = Path(tempfile.mkdtemp())
        self.folder = shutil.copytree(template(), self.base / "workshop")
        self.now = NOON + timedelta(days=1)
        self.on_build = {0}
        self.binned: set[int] = set()
        self.measured = 1
        self.stamp = 0
        self._open()

    def _open(self) -> None:
        self._held = opened(self.folder)
        self.kept = self._held.__enter__()
        with self.kept.records.read() as session:
            self.seed_of = getattr(self, "seed_of", {1: 0})
            assert session.get(Build, 1) is not None

    def _session(self):
        return self.kept.records.writing.begin()

    @rule(seed=SEEDS)
    def take(self, seed: int) -> None:
        with self._session() as session:
            photo = take_photo(session, self.kept.store, session.get(Build, 1), seed)
            self.seed_of[photo.id] = seed
        self.on_build.add(seed)
        self.binned.discard(seed)

    @rule(number=NUMBERS)
    def mark(self, number: int) -> None:
        try:
            with self._session() as session:
                points = ((5, 5), (20, 20))
                add_mark(session, number, Shape.LINE, points, kind="dry-spot", at=self.now)
        except DefectlogError:
            pass

    @rule(number=NUMBERS, outcome=st.sampled_from(Outcome))
    def decide(self, number: int, outcome: Outcome) -> None:
        try:
            with self._session() as session:
                decide(session, number, outcome, reason="seen", at=self.now)
        except DefectlogError:
            pass

    @rule(number=NUMBERS, words=st.sampled_from(("low", "low corner", "", "edge")))
    def note(self, number: int, words: str) -> None:
        try:
            with self._session() as session:
                save_note(session, number, words)
        except DefectlogError:
            pass

    @rule(number=NUMBERS)
    def measure(self, number: int) -> None:
        with self._session() as session:
            photo = session.get(Photo, number)
            if photo is not None and photo.deleted_at is None:
                add_measurement(session, photo, 0.01, at=self.now)

    @rule(number=NUMBERS)
    def delete_photo(self, number: int) -> None:
        try:
            with self._session() as session:
                delete_photo(session, number, self.now)
        except DefectlogError:
            return
        self.on_build.discard(self.seed_of[number])
        self.binned.add(self.seed_of[number])

    @rule(number=NUMBERS)
    def delete_finding(self, number: int) -> None:
        try:
            with self._session() as session:
                the_bin.delete_finding(session, number, self.now)
        except DefectlogError:
            pass

    @rule(thing=st.sampled_from(("photo", "finding", "mark")), number=NUMBERS)
    def bring_back(self, thing: str, number: int) -> None:
        try:
            with self._session() as session:
                the_bin.bring_back(session, thing, number)
        except DefectlogError:
            return
        if thing == "photo":
            self.binned.discard(self.seed_of[number])
            self.on_build.add(self.seed_of[number])

    @rule(days=st.integers(0, 20))
    def days_go_by(self, days: int) -> None:
        self.now += timedelta(days=days)

    @precondition(lambda self: self.binned)
    @rule()
    def empty_the_bin(self) -> None:
        there = self.kept
        the_bin.empty(there.records, there.store, there.folder, before=self.now)
        self.binned.clear()

    @rule()
    def restart(self) -> None:
        self._held.__exit__(None, None, None)
        self._open()

    @rule()
    def back_up_and_move_house(self) -> None:
        self.stamp += 1
        place = self.base / f"{self.stamp}.zip"
        list(write_backup(self.kept, place, at=self.now))
        self._held.__exit__(None, None, None)
        self.folder = self.base / f"house-{self.stamp}"
        restore(place, self.folder, at=self.now)
        self._open()

    @invariant()
    def records_are_sound_and_as_modelled(self) -> None:
        if not hasattr(self, "kept"):
            return
        assert verify(self.kept, at=self.now).faults == ()
        with self.kept.records.read() as session:
            photos = session.query(Photo).all()
            kept = {self.seed_of[photo.id] for photo in photos if photo.deleted_at is None}
            gone = {self.seed_of[photo.id] for photo in photos if photo.deleted_at is not None}
            assert (kept, gone) == (self.on_build, self.binned)
            for finding in session.query(Finding):
                assert finding.is_open or finding.decisions[-1].outcome is finding.outcome

    def teardown(self) -> None:
        if hasattr(self, "_held"):
            self._held.__exit__(None, None, None)
            shutil.rmtree(self.base, ignore_errors=True)


def run(runs: int, steps: int) -> None:
    """So many sequences of so many steps; raises with the shortest one that goes wrong."""
    run_state_machine_as_test(
        Shop,
        settings=settings(
            max_examples=runs,
            stateful_step_count=steps,
            deadline=None,
            database=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--runs", type=int, default=200)
    asked.add_argument("--steps", type=int, default=40)
    said = asked.parse_args()
    run(said.runs, said.steps)
    print(f"{said.runs} sequences of up to {said.steps} steps: records sound after every step")


if __name__ == "__main__":
    main()
