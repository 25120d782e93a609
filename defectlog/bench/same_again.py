"""Same as last time: what the next build of a part may take over from the one before."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.facts import Stage, of_stage
from defectlog.records import Build

# Settings only. A reading, a weight or how the work went is never taken over: proposed from
# the build before it would sooner or later be saved unread, and be a false record.
CARRIED = frozenset(
    [
        "process",
        "plies",
        "core",
        "core_thickness_mm",
        "core_perforated",
        "core_grooved",
        "core_bedded",
        "tack_adhesive",
        "tack_face",
        "tack_kind",
        "surface_fabric",
        "surface_veil",
        "gelcoat",
        "coat",
        "mould_surface",
        "release_system",
        "mould_expansion",
        "inside_radius_mm",
        "laminate_thickness_mm",
        "symmetric",
        "surface_prep",
        "peel_ply",
        "peel_ply_fibre",
        "peel_ply_weave",
        "flow_media",
        "media_edge",
        "bleeder",
        "resin_system",
        "resin_planned_g",
        "degassed",
        "resin_viscosity",
        "pot_life_min",
        "cure_c",
        "cure_h",
        "postcure_c",
        "postcure_h",
        "demould_tools",
        "trim_tool",
        "area_dm2",
    ]
)

LOOK_BACK = 10  # builds; what was last written down longer ago is no “last time”


@dataclass(frozen=True, slots=True)
class Proposal:
    """Facts a form may show before anything is written down, and the build they come from."""

    number: int
    facts: Mapping[str, Any]


def settings_of(build: Build) -> dict[str, Any]:
    """The settings among the facts of a build: what could be the same next time.

    What a trial set on a panel of its own is no habit of the shop, and not taken over.
    """
    tried = given_by_trial(build)
    return {n: value for n, value in build.known.items() if n in CARRIED and n not in tried}


def given_by_trial(build: Build) -> frozenset[str]:
    """The fact that a trial set on a build, if it is one of its panels."""
    return frozenset((build.trial_run.trial.fact,)) if build.trial_run else frozenset()


def proposal(session: Session, build: Build, stage: Stage) -> Proposal | None:
    """The settings of one stage from the part's last build before this one that noted any.

    Nothing is proposed once anything of the stage is written down: what is empty then was left
    empty on purpose. What a trial set when it started the build was not written by hand.
    """
    names = {fact.name for fact in of_stage(stage)} - given_by_trial(build)
    if names & build.known.keys():
        return None
    earlier = session.scalars(
        select(Build)
        .where(Build.part_id == build.part_id, Build.id < build.id)
        .order_by(Build.id.desc())
        .limit(LOOK_BACK)
    )
    for before in earlier:
        facts = {name: value for name, value in settings_of(before).items() if name in names}
        if facts:
            return Proposal(before.id, facts)
    return None
