"""Every text that tells a maker to do something, held against a list of hazards of its own.

The words that call for a caution stand in the guide's data, and the loader goes by them. The list
here is written independently of it, from what hurts in the trade, so that a word taken out of the
data, or a new turn of phrase, is found out.
"""

import re
from collections.abc import Iterator

import pytest

from defectlog.guide import kinds, library
from defectlog.guide.entry import Caution
from defectlog.guide.removal import removal

# Common practice, no source: what a person does, and which caution belongs before it.
HAZARDS = {
    "dust": r"\b(sand|sanded|sanding|grind|grinder|drill|saw|scarf|plane back|dust off"
    r"|block it flat|trim again|trim the edge|abrasive)\b",
    "wet-resin": r"\b(epoxy|hardener|wet out|inject|uncured|low-viscosity|raw amine|half-cured"
    r"|with resin|with fresh resin|mixed resin|coat of resin|thin, even coat)\b|press a nail"
    r"|press a thumbnail",
    "solvent": r"\b(solvent|acetone|isopropanol|styrene|thinners?(?! (than|here)))\b",
    "runaway": r"\b(paste|catch pot|small pots|in lifts|thick fill)\b",
    "sharp": r"\b(knife|blade|scrape|tug|tweezers|fuzz|burr|spiral)\b",
    "heat": r"\b(warm|warmed|warmth|heat|heats|post-cure|oven)\b",
    "marking": r"\b(powder|chalk|dye|felt pen|silicone)\b",
    "foam": r"\b(cut (crushed|scorched|melted) foam|hot wire|pour(ed)? foam|isocyanate)\b",
    "peroxide": r"\b(peroxide|accelerator|cobalt)\b",
    "blister-fluid": r"\b(prick|lance)\b",
    "demould-force": r"\b(compressed air|low-pressure air|soft wedges)\b",
    "structure": r"\b(ply for ply|cut out to sound)\b",
}
# Words of a hazard where nothing is handled: a look at the scales or into the log.
HARMLESS = ("hardener cans", "more hardener than the data sheet")

Told = tuple[str, str, tuple[Caution, ...]]


def told() -> Iterator[Told]:
    """Where it stands, the text, and the cautions a reader meets before it."""
    shared = library.shared()
    for kind in kinds():
        for fix in kind.fixes:
            for step in fix.steps:
                yield f"{kind.key}, {fix.key}", step.do, step.cautions
            for line in fix.reinspect:
                yield f"{kind.key}, {fix.key}, look again", line, fix.cautions
        for cause in kind.causes:
            for check in cause.checks:
                yield f"{kind.key}, {check.key}", check.do, check.cautions
    for test in shared.tests.values():
        yield test.key, test.how, test.cautions
    for routine in shared.routines.values():
        for step in routine.steps:
            yield routine.key, step.do, step.cautions
    said = removal()
    for run in (said.before, said.pull, said.then):
        for step in run.steps:
            yield f"peel ply, {run.title}", step.do, step.cautions


@pytest.mark.parametrize("hazard", HAZARDS)
def test_a_hazard_is_named_only_behind_its_caution(hazard):
    pattern = re.compile(HAZARDS[hazard], re.IGNORECASE)
    bare = []
    for where, text, cautions in told():
        for words in HARMLESS:
            text = text.replace(words, "")
        if pattern.search(text) and hazard not in {caution.key for caution in cautions}:
            bare.append((where, text))

    assert bare == []


def test_the_list_speaks_of_every_caution_there_is():
    assert HAZARDS.keys() == library.shared().cautions.keys()


# The cautions every kind's fixes have to name between them, from the trade: what is handled when
# this defect is put right. Common practice, no source.
HANDLED = {
    "pinholes-tool": {"dust", "wet-resin", "solvent", "marking"},
    "air-bubbles": {"dust", "wet-resin"},
    "print-through": {"dust", "heat"},
    "release-transfer": {"wet-resin", "solvent", "marking"},
    "sink-mark": {"dust", "runaway"},
    "coat-crack": {"dust", "wet-resin", "peroxide"},
    "demould-scratch": {"dust", "sharp", "demould-force"},
    "blister": {"heat", "blister-fluid", "dust"},
    "pinholes-bag": {"dust", "wet-resin"},
    "starved-bag": {"dust", "wet-resin"},
    "resin-rich": {"dust", "runaway"},
    "pleat-imprint": {"dust"},
    "peel-tear": {"sharp", "dust", "wet-resin"},
    "peel-embedded": {"sharp"},
    "coating-transfer": {"dust", "wet-resin", "solvent"},
    "line-mark": {"dust", "sharp"},
    "dry-spot": {"wet-resin", "runaway", "structure"},
    "race-track": {"wet-resin", "runaway", "structure"},
    "bridging": {"dust", "structure"},
    "wrinkle": {"structure"},
    "inclusion": {"dust"},
    "delam-edge": {"dust", "wet-resin", "sharp", "structure"},
    "skin-core": {"wet-resin", "foam", "structure", "heat"},
    "core-dent": {"foam", "structure"},
    "core-read": {"dust", "runaway"},
    "tacky-adhesive": {"solvent", "wet-resin", "marking"},
    "tacky-undercure": {"wet-resin", "heat"},
    "tacky-blush": {"wet-resin"},
    "exotherm-scorch": {"runaway", "foam", "heat"},
    "edge-chip": {"dust", "sharp"},
    "warp": {"heat"},
    "stuck-part": {"demould-force", "sharp", "heat", "dust"},
    "pre-release": {"dust", "wet-resin", "solvent"},
    "peel-stuck": {"sharp", "dust", "heat"},
    "core-shear": {"foam", "structure", "dust", "wet-resin"},
}


@pytest.mark.parametrize("key", HANDLED)
def test_the_fixes_of_a_kind_name_what_is_handled_in_them(key):
    kind = next(one for one in kinds() if one.key == key)
    named = {caution.key for fix in kind.fixes for caution in fix.cautions}

    assert named >= HANDLED[key]


def test_no_kind_is_left_out_of_that_table():
    assert HANDLED.keys() == {kind.key for kind in kinds()}


def test_looking_again_with_warmth_or_powder_is_cautioned_too():
    blister = next(one for one in kinds() if one.key == "blister")

    again = [{caution.key for caution in fix.again_cautions} for fix in blister.fixes]
    assert all("heat" in keys for keys in again)
