"""What has been published about faults, asked of the guide: does it say the same?

Each row names its source as the guide cites it. Of most only an abstract or an excerpt was read;
what is held is their direction (this makes that likelier), never a figure of ours.
"""

import pytest

from defectlog.guide import kind, library, rank

TIGHT = {"drop_start_mbar": 10.0, "drop_end_mbar": 12.0, "drop_minutes": 20.0}

# Source, kind, facts of the build, and the cause that the source says these lead to.
RAISED = [
    # Gel near full vacuum as the cause of porosity, degassing as its cure.
    (
        "degassing-2021",
        "pinholes-tool",
        {"degassed": False, "vacuum_abs_mbar": 5.0},
        "gas-from-resin",
    ),
    # Air through a bag that leaks.
    (
        "leak-detection-2021",
        "pinholes-tool",
        {"drop_start_mbar": 10.0, "drop_end_mbar": 210.0, "drop_minutes": 10.0},
        "bag-leak",
    ),
    # Coarse nylon weaves could not be removed without harm.
    (
        "faa-peel-ply",
        "peel-tear",
        {"peel_ply_fibre": "nylon", "peel_ply_weave": "coarse"},
        "grips-too-hard",
    ),
    (
        "faa-peel-ply",
        "peel-stuck",
        {"peel_ply_fibre": "nylon", "peel_ply_weave": "coarse"},
        "grips-by-nature",
    ),
    # Siloxane on the cloth: below 94 J/m², failure at the face.
    ("faa-peel-ply", "coating-transfer", {"peel_ply": "coated"}, "coated-where-bonded"),
    # A cloth not folded back breaks more fibres out.
    ("peel-removal-2016", "peel-tear", {"peel_fold_back_deg": 40.0}, "lifted-not-folded"),
    # Both tack agents lowered the shear strength between plies.
    (
        "tackifier-thesis",
        "delam-edge",
        {"tack_adhesive": "heavy", "tack_face": "interply"},
        "tack-between",
    ),
    # The salt of amine with moisture and carbon dioxide.
    (
        "blush-field-tests",
        "tacky-blush",
        {"humidity_pct": 85.0, "ambient_c": 15.0},
        "cool-damp-air",
    ),
    ("blush-field-tests", "tacky-blush", {"unflued_heater": True}, "unflued-heater"),
    # Thick work built without waiting heats itself.
    ("class-society-laminates", "exotherm-scorch", {"pooled_resin": True}, "thick-and-fast"),
    # Gaps beside the plies carry resin ahead.
    ("edge-race-2021", "race-track", {"edge_gap": True}, "edge-channel"),
    # Fronts that meet shut gas in.
    ("dry-spot-2016", "dry-spot", {"process": "infusion", "vent_placed": "poor"}, "fronts-met"),
    # The mould's own growth counts beside shrinkage.
    (
        "spring-forward-1998",
        "warp",
        {"mould_expansion": "different", "cure_c": 90.0},
        "mould-grows",
    ),
    # Cloth off before drilling: fuzz and spall.
    ("drilling-peel-ply-2011", "edge-chip", {"peel_ply": "none"}, "face-bare"),
    # Impact shears the core.
    ("core-shear-impact-2015", "core-shear", {"knocked": True}, "knock"),
    # A mould that is not stripped clean lets go early, or not at all.
    ("release-guidelines", "stuck-part", {"release_state": "worn"}, "release-missed-or-worn"),
    # Resin left open to the feed swells the stack there.
    ("infusion-homogeneity", "resin-rich", {"feed_closed": "late"}, "swelled-by-feed"),
    # Spare cloth in corners buckles.
    ("ply-waviness-2020", "wrinkle", {"inside_radius_mm": 3.0}, "spare-cloth"),
]

# The same, the other way round: what a source says is spared.
LOWERED = [
    ("degassing-2021", "pinholes-tool", {"degassed": True}, "gas-from-resin"),
    ("faa-peel-ply", "peel-tear", {"peel_ply_fibre": "polyester"}, "grips-too-hard"),
    ("faa-peel-ply", "coating-transfer", {"peel_ply": "uncoated"}, "coated-where-bonded"),
    ("peel-removal-2016", "peel-tear", {"peel_fold_back_deg": 175.0}, "lifted-not-folded"),
    ("leak-detection-2021", "pinholes-tool", TIGHT, "bag-leak"),
]


def share(key, facts, cause):
    return next(one.share for one in rank(key, facts).causes if one.key == cause)


@pytest.mark.parametrize(("source", "key", "facts", "cause"), RAISED)
def test_what_a_source_blames_is_raised(source, key, facts, cause):
    assert share(key, facts, cause) > share(key, {}, cause)


@pytest.mark.parametrize(("source", "key", "facts", "cause"), LOWERED)
def test_what_a_source_praises_is_lowered(source, key, facts, cause):
    assert share(key, facts, cause) < share(key, {}, cause)


@pytest.mark.parametrize(("source", "key", "facts", "cause"), [*RAISED, *LOWERED])
def test_the_source_is_cited_where_the_kind_is_told(source, key, facts, cause):
    assert library.shared().sources[source] in kind(key).sources


def test_the_strongest_published_pair_leads_over_all_the_rest():
    # Siloxane-coated cloth under a bond: below 94 J/m² against above 850 for uncoated polyester.
    ranking = rank("coating-transfer", {"peel_ply": "coated"})

    assert ranking.causes[0].key == "coated-where-bonded"
