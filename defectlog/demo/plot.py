"""The words the story is told in: a build as it went, and what was wrong with it."""

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from defectlog.demo.spec import Defect
from defectlog.records import LessonState, Outcome


class Process(enum.Enum):
    """How a build was laid up; the values are those of the build fact."""

    BAGGED = "bagged-wet-layup"
    INFUSION = "infusion"


class Progress(enum.Enum):
    """How far a build has come by now."""

    RELEASED = "released"
    OPEN = "demoulded, something to decide"
    LAID_UP = "on the mould"


@dataclass(frozen=True, slots=True)
class Learnt:
    """A lesson drawn from a trouble; later builds of the part apply or skip it by ``label``."""

    label: str
    words: str
    state: LessonState = LessonState.ON_TRIAL
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Trouble:
    """One defect of a build from the photo to the decision.

    ``drawn`` is what the renderer draws of it. Without ``cause`` nobody has found it out yet;
    without ``outcome`` nobody has decided. ``fix_key`` says which fix of the guide was done.
    ``close_up`` and ``after`` ask for one more photo: nearer, and after the repair.
    """

    kind: str
    drawn: tuple[Defect, ...] = ()
    note: str = ""
    cause: str = ""
    seen: str = ""
    ruled_out: tuple[tuple[str, str], ...] = ()
    fix: str = ""
    fix_key: str = ""
    fix_min: float = 0.0
    outcome: Outcome = Outcome.OPEN
    reason: str = ""
    close_up: bool = False
    after: tuple[Defect, ...] = ()
    learnt: Learnt | None = None

    @property
    def on_tool_side(self) -> bool:
        return self.kind in {"pinholes-tool", "dry-spot", "tacky-adhesive"}


@dataclass(frozen=True, slots=True)
class BuildPlan:
    """One build of the story. ``void_pct`` is the share of the tool side drawn as pinholes."""

    part: str
    days_ago: int
    process: Process
    void_pct: float
    leak_mbar_min: float
    troubles: tuple[Trouble, ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)
    skips: tuple[str, ...] = ()
    bag_photo: bool = False
    note: str = ""
    progress: Progress = Progress.RELEASED
    glare: float = 0.0
    trial: str = ""  # the trial it is a panel of
    fan: bool = False  # the pits gather towards one edge, where the air came in


FILLED = (
    "Washed, dried, keyed with 180; warm laminating resin wiped in crossways with a squeegee, "
    "second pass at the green stage, blocked with 320."
)
FOLD_BACK = (
    "Lines and ridges off first; fold the peel ply right back over itself, 150° or more, in "
    "strips of 100 mm, slowly, from the middle off the edge."
)
STRAIGHT_UP: Mapping[str, Any] = {
    "peel_fold_back_deg": 90.0,
    "peel_start": "corner",
    "peel_pace": "rushed",
}


def filled(**more: Any) -> Trouble:
    """Pinholes that were filled and blocked."""
    return Trouble(
        "pinholes-tool",
        fix=FILLED,
        fix_key="fill-pinholes",
        fix_min=45,
        outcome=Outcome.REWORK,
        reason="Filled and blocked.",
        **more,
    )


def torn(drawn: Defect, **more: Any) -> Trouble:
    """A ply torn by its peel ply."""
    return Trouble("peel-tear", drawn=(drawn,), **more)
