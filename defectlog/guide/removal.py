"""How a peel ply comes off: the reasons, the steps with their cautions, and when to stop."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from defectlog.guide import library
from defectlog.guide.entry import Caution, Claim, Dispute, Source, Step
from defectlog.guide.row import Row, read_table
from defectlog.guide.shared import Shared, read_step

FILE = "peel-ply.toml"


@dataclass(frozen=True, slots=True)
class Steps:
    """A run of steps under one heading."""

    title: str
    steps: tuple[Step, ...]

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Every caution of the steps once, in order of first need."""
        return tuple(dict.fromkeys(c for step in self.steps for c in step.cautions))


@dataclass(frozen=True, slots=True)
class Energy:
    """The peel energy in J/m²: from, to and usual, and how little is known of it."""

    say: str
    low: float
    high: float
    usual: float
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Removal:
    """All that is said of taking a peel ply off."""

    why: tuple[Claim, ...]
    energy: Energy
    before: Steps
    pull: Steps
    stop_title: str
    stop_signs: tuple[str, ...]
    then: Steps
    disputes: tuple[Dispute, ...]

    @property
    def sources(self) -> tuple[Source, ...]:
        """Every source once, published ones first."""
        held = (*self.why, self.energy, *self.disputes)
        found = dict.fromkeys(source for row in held for source in row.sources)
        return tuple(sorted(found, key=lambda source: source.standing != "published"))


@cache
def removal() -> Removal:
    """What the guide says of taking a peel ply off."""
    return read_removal(Path(library.__file__).parent / "shared" / FILE, library.shared())


def read_removal(path: Path, common: Shared) -> Removal:
    """Read the file.

    Raises
    ------
    EntryError
        For an unknown word or source, and for a step that names a hazard without its caution.
    """
    row = Row(path.name, "", read_table(path))
    stop = Row(path.name, "stop", row.take("stop"))
    made = Removal(
        tuple(_claim(one, common.sources) for one in row.rows("why")),
        _energy(Row(path.name, "energy", row.take("energy")), common.sources),
        _steps(Row(path.name, "before", row.take("before")), common),
        _steps(Row(path.name, "pull", row.take("pull")), common),
        stop.text("title"),
        stop.texts("signs"),
        _steps(Row(path.name, "then", row.take("then")), common),
        tuple(_dispute(one, common.sources) for one in row.rows("dispute")),
    )
    stop.end()
    row.end()
    return made


def _claim(row: Row, sources: Mapping[str, Source]) -> Claim:
    made = Claim(row.text("say"), row.all_of("sources", sources))
    row.end()
    return made


def _energy(row: Row, sources: Mapping[str, Source]) -> Energy:
    made = Energy(
        row.text("say"),
        row.number("low", 1, 10_000),
        row.number("high", 1, 10_000),
        row.number("usual", 1, 10_000),
        row.all_of("sources", sources),
    )
    row.end()
    return made


def _steps(row: Row, common: Shared) -> Steps:
    made = Steps(
        row.text("title"), tuple(read_step(one, common.cautions) for one in row.rows("steps"))
    )
    row.end()
    return made


def _dispute(row: Row, sources: Mapping[str, Source]) -> Dispute:
    made = Dispute(
        row.text("about"), row.text("one"), row.text("other"), row.all_of("sources", sources)
    )
    row.end()
    return made
