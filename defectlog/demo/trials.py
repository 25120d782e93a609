"""Two trials on test panels: tack adhesive on the mould face, decided; degassing, half made."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from defectlog.charts import run_order
from defectlog.demo.plot import BuildPlan, Process

PANEL = "panel"


@dataclass(frozen=True, slots=True)
class TrialStory:
    """A trial as it was planned, and what its panels came to.

    ``void_pct`` are the panels of each setting in the order they were made, ``days_ago`` when the
    panels were, in the order of the trial; there are fewer of them while it runs. ``more`` are the
    facts that go with a setting. ``spread`` is what was guessed before anything was on record.
    """

    label: str
    question: str
    fact: str
    settings: tuple[Any, ...]
    smallest_difference: float
    per_setting: int
    seed: int
    void_pct: tuple[tuple[float, ...], ...]
    days_ago: tuple[int, ...]
    by_day: bool = False
    spread: float = 0.0
    more: tuple[Mapping[str, Any], ...] = field(default=({}, {}))

    def panels(self) -> Iterator[BuildPlan]:
        """The builds of the panels made so far, in the order the seed gives."""
        places = [str(place) for place in range(len(self.settings))]
        order = run_order(places, self.per_setting, random_state=self.seed)
        left = [iter(values) for values in self.void_pct]
        for place, days_ago in zip(map(int, order), self.days_ago, strict=False):
            yield BuildPlan(
                PANEL,
                days_ago,
                Process.INFUSION,
                next(left[place]),
                0.4,
                facts={self.fact: self.settings[place], **self.more[place]},
                trial=self.label,
            )


TRIALS = (
    TrialStory(
        "tack",
        "Does even a light mist of infusion-grade tack adhesive on the mould face cost voids?",
        "tack_adhesive",
        ("none", "light"),
        smallest_difference=0.001,
        per_setting=3,
        seed=3,
        void_pct=((0.19, 0.21, 0.18), (0.40, 0.42, 0.39)),
        days_ago=(85, 83, 82, 79, 78, 75),
        spread=0.0003,
        more=({}, {"tack_face": "tool", "tack_kind": "infusion-grade"}),
    ),
    TrialStory(
        "degas",
        "Is degassing the resin worth its half hour?",
        "degassed",
        (True, False),
        smallest_difference=0.001,
        per_setting=3,
        seed=7,
        void_pct=((0.19, 0.20), (0.23, 0.21)),
        days_ago=(20, 20, 13, 13),
        by_day=True,
    ),
)
PANELS = tuple(panel for story in TRIALS for panel in story.panels())
