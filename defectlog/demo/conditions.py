"""The build facts of each build of the story, as a workshop would have written them down."""

from datetime import datetime
from math import cos, pi
from typing import Any

import numpy as np

from defectlog.demo.hours import Clock
from defectlog.demo.plot import BuildPlan, Process, Progress
from defectlog.demo.recipes import Recipe
from defectlog.facts import FACTS, Stage

Facts = dict[str, Any]


def facts_of(plan: BuildPlan, number: int, recipe: Recipe, day: datetime) -> dict[Stage, Facts]:
    """Everything that became known of a build, stage by stage; what is to come is left out."""
    rng = np.random.default_rng(4000 + number)
    infused = plan.process is Process.INFUSION
    known = _layup(plan, recipe, day, rng)
    known |= _bag(plan, number, infused, rng)
    if plan.progress is not Progress.LAID_UP:
        known |= _resin(number, recipe, infused, rng)
        known |= _cure_and_peel(number, infused, rng)
        known |= _weighed(number, recipe, infused, rng)
    else:
        known["resin_planned_g"] = _planned_g(recipe, infused)
    known |= plan.facts
    return {
        stage: {name: value for name, value in known.items() if FACTS[name].stage is stage}
        for stage in Stage
    }


def clock_of(plan: BuildPlan, number: int, recipe: Recipe, day: datetime) -> Clock:
    """When things happened on a build of that day, by what was written down of its cure."""
    known: Facts = {}
    for facts in facts_of(plan, number, recipe, day).values():
        known |= facts
    return Clock.of(day, known)


def _layup(plan: BuildPlan, recipe: Recipe, day: datetime, rng: np.random.Generator) -> Facts:
    # A heated workshop near the sea: warmest at the end of July, damper in winter.
    season = cos(2 * pi * (day.timetuple().tm_yday - 208) / 365)
    facts: Facts = {
        "process": plan.process.value,
        "plies": recipe.ply_facts(),
        "core": "pvc-foam" if recipe.core_mm else "none",
        "tack_adhesive": "none",
        "surface_fabric": "woven",
        "surface_veil": False,
        "gelcoat": False,
        "mould_surface": "gel coat",
        "tool_surface": "good",
        "release_system": "semi-permanent",
        "release_state": "as-instructed",
        "inside_radius_mm": recipe.inside_radius_mm,
        "laminate_thickness_mm": round(recipe.laminate_mm, 1),
        "fabric_dry": True,
        "ambient_c": _to(20.0 + 2.6 * season + rng.normal(0, 0.7), 0.5),
        "humidity_pct": float(round(54 - 6 * season + rng.normal(0, 4))),
    }
    facts["mould_temp_c"] = facts["ambient_c"] - 0.5
    if recipe.core_mm:
        facts["core_thickness_mm"] = recipe.core_mm
        facts["core_perforated"] = facts["core_grooved"] = plan.process is Process.INFUSION
        facts["core_fit"] = "tight"
    return facts


def _bag(plan: BuildPlan, number: int, infused: bool, rng: np.random.Generator) -> Facts:
    if infused:
        # The leak taught them to wait longer.
        start, minutes = float(rng.integers(12, 20)), 20.0 if number > 31 else 10.0
        more: Facts = {
            "flow_media": True,
            "media_edge": "brake",
            "feed_placed": "good",
            "vent_placed": "good",
            "peel_ply_weave": "fine",
        }
        if plan.leak_mbar_min > 2:
            start += 14
    else:
        start, minutes = float(rng.integers(70, 105)), 10.0
        more = {"flow_media": False, "bleeder": "right", "peel_ply_weave": "fine"}
    return more | {
        "peel_ply": "uncoated",
        "bag_slack": "slack",
        "vacuum_abs_mbar": start,
        "drop_start_mbar": start,
        "drop_end_mbar": start + round(plan.leak_mbar_min * minutes),
        "drop_minutes": minutes,
        "vacuum_lost": False,
    }


def _planned_g(recipe: Recipe, infused: bool) -> float:
    """The resin budget: in the part, in what is peeled off, in the lines, and a reserve."""
    area_m2 = recipe.area_dm2 / 100
    in_part = recipe.resin_in_part_g(0.52 if infused else 0.43, infused=infused)
    if infused:
        return _to((in_part + area_m2 * (60 + 480) + 150) * 1.10, 5)
    return _to((in_part + area_m2 * (60 + 200)) * 1.08, 5)


def _resin(number: int, recipe: Recipe, infused: bool, rng: np.random.Generator) -> Facts:
    planned = _planned_g(recipe, infused)
    # People mix by feel at first and by the sheet later.
    spread = 0.05 if number < 12 else 0.03
    mixed = _to(planned * (1.06 if number < 12 else 1.03) * (1 + rng.normal(0, spread)), 1)
    left_share = float(np.clip(rng.normal(0.10 if number < 12 else 0.07, 0.02), 0.03, 0.16))
    facts: Facts = {
        "resin_system": "slow epoxy" if infused else "laminating epoxy",
        "resin_opened_days": float(7 + (number * 23) % 120),
        "resin_planned_g": planned,
        "resin_mixed_g": mixed,
        "resin_left_g": _to(mixed * left_share, 1),
        "mix_logged": True,
        "mix_ratio_error_pct": _to(rng.normal(0, 0.5), 0.1),
        "mixing": "good",
        "degassed": infused and number >= 24,
        "resin_temp_c": _to(21 + rng.normal(0, 0.8), 0.5),
        "pot_life_min": 75.0 if infused else 40.0,
        "fill_time_min": float(round(rng.normal(17, 2.5) if infused else rng.normal(28, 3))),
    }
    if infused:
        facts["feed_closed"] = "on-time"
    else:
        facts["rolling"] = "good"
    return facts


def _cure_and_peel(number: int, infused: bool, rng: np.random.Generator) -> Facts:
    # Before the first lesson the cloth was folded as it came; after it, flat back.
    fold = rng.normal(172, 3) if number > 11 else rng.normal(128, 10)
    hours = float(round(rng.normal(24, 1.5)))
    return {
        "cure_c": 21.0,
        "cure_h": hours,
        "postcure_c": 50.0,
        "postcure_h": 8.0 if infused else 6.0,
        "demould_after_h": hours + 1,
        "part_temp_c": 21.0,
        "peel_fold_back_deg": float(np.clip(_to(fold, 5), 100, 180)),
        "peel_start": "thick",
        "peel_pace": "slow",
        "peel_direction": "along-ply",
        "demould_tools": "soft",
        "trim_tool": "abrasive",
    } | ({"spiral_removed_first": True} if infused else {})


def _weighed(number: int, recipe: Recipe, infused: bool, rng: np.random.Generator) -> Facts:
    fraction = rng.normal(0.52, 0.010) if infused else rng.normal(0.43, 0.016)
    mass = recipe.fibre_g + recipe.core_g + recipe.resin_in_part_g(float(fraction), infused=infused)
    thickness = recipe.core_mm + recipe.laminate_mm * 0.5 / fraction
    hours = 4.0 - 0.03 * number if infused else 2.9 - 0.02 * number
    return {
        "mass_g": _to(mass * (1 + rng.normal(0, 0.006)), 1),
        "area_dm2": round(recipe.area_dm2, 2),
        "thickness_mm": _to(thickness, 0.05),
        "effort_min": _to(60 * hours * (1 + rng.normal(0, 0.06)), 5),
    }


def _to(value: float, step: float) -> float:
    """Rounded as people read a scale or a thermometer."""
    return float(round(round(float(value) / step) * step, 2))
