"""How usual each cause is, against a table of its own: common practice, no source.

C common, O occasional, R rare, in the order of the entry. Priors are judgement; what this holds
is that nobody changes one by the way.
"""

import pytest

from defectlog.guide import kinds
from defectlog.guide.schema import PRIORS

LETTERS = {"C": "common", "O": "occasional", "R": "rare"}

TABLE = {
    "pinholes-tool": "bag-leak C; gas-from-resin C; moisture O; weave-pockets C; over-bled O; "
    "porous-mould O; wet-release O; tack-on-mould-face O",
    "air-bubbles": "beaten-in C; not-rolled-out C; front-speed O; air-with-feed O; "
    "leak-before-gel O",
    "print-through": "shrink-between-tows C; still-curing C; thin-coat O; core-joints O",
    "release-transfer": "too-much-release C; silicone-or-oil O; film-came-off O; dirty-mould R",
    "sink-mark": "pocket-shrank C; green-skin-pulled O; gap-in-core O",
    "coat-crack": "coat-too-thick C; flexed-at-demould C; knock O; bad-cure O",
    "demould-scratch": "hard-wedge C; part-stuck O; knife-on-part O; mould-scratched O",
    "blister": "trapped-gas C; foam-gassed O; moisture O; dirt-below O; uncured-pocket O; "
    "service-osmosis R",
    "pinholes-bag": "air-under-peel-ply C; gas-drawn-to-vent O; drained-after-fill O; over-bled O",
    "starved-bag": "drained-after-fill C; over-bled C; too-little-resin C; "
    "pushed-away-by-leak O; late-thick-resin O",
    "resin-rich": "bag-spanned C; swelled-by-feed O; laid-up-too-wet C; under-bled O; gap-filled O",
    "pleat-imprint": "bag-folded C; lap-or-crease-below C; bag-moved-late O",
    "peel-tear": "lifted-not-folded C; thin-edge-start C; line-still-on C; grips-too-hard O; "
    "green-matrix O; brittle-cloth O; weak-below O; across-fibres O",
    "peel-embedded": "tore-coming-off C; lapped-or-folded-in C; forgotten R",
    "coating-transfer": "coated-where-bonded C; wrong-roll O; dirty-cloth R",
    "line-mark": "pressed-in C; mesh-step O; stripped-ridge O",
    "dry-spot": "fronts-met C; gelled-before-arrival C; leak-at-spot O; blocked-way O; "
    "missed-by-hand C; nowhere-to-go O; feed-ended O",
    "race-track": "edge-channel C; corner-channel O; mesh-to-vent C",
    "bridging": "bag-too-short C; ply-under-tension C; too-little-pressure O; core-held-off O",
    "wrinkle": "spare-cloth C; slipped-or-stuck O; fold-pushed-it O; hot-mould R; moved-late O",
    "inclusion": "backing-left C; workshop-dirt C; cut-fibre O; carbon-dust R",
    "delam-edge": "levered C; trimmed-dull C; late-ply-no-key O; tack-between O; "
    "voids-or-damp O; knocked O",
    "skin-core": "dry-interface C; air-under-sheet C; late-vacuum O; dirty-face O; "
    "core-sprang-back O; foam-gas R",
    "core-dent": "vacuum-on-edge C; handling C; softened-by-heat O",
    "core-read": "resin-shrinks C; gap-between-sheets C; empty-kerfs O; thin-skin C",
    "tacky-adhesive": "on-last-ply C; heavy-film C; wrong-adhesive O; not-flashed O; "
    "on-tool-face C",
    "tacky-undercure": "wrong-ratio C; unmixed-streaks C; cold-or-short C; old-hardener O; "
    "poisoned O; thin-film O",
    "tacky-blush": "cool-damp-air C; unflued-heater O; amine-left-over O",
    "exotherm-scorch": "thick-and-fast C; hot-mix O; line-or-puddle C",
    "edge-chip": "wrong-tool C; weak-edge O; face-bare O; cut-green O",
    "warp": "corner-closes C; lopsided-laminate C; mould-grows O; let-go-while-soft C; "
    "moist-core O",
    "stuck-part": "release-missed-or-worn C; porous-or-keyed O; undercut C; green-or-grown O",
    "pre-release": "shrank-off C; coat-uneven C; too-slippery O; moved-or-warmed O",
    "peel-stuck": "drowned C; grips-by-nature C; baked O; lost-the-start O",
    "core-shear": "levered-at-demould C; bent-while-green O; knock O; weak-line O",
}


@pytest.mark.parametrize("kind", kinds(), ids=lambda kind: kind.key)
def test_the_causes_of_a_kind_are_as_usual_as_the_table_says(kind):
    rows = (row.split() for row in TABLE[kind.key].split("; "))

    assert {cause.key: cause.prior for cause in kind.causes} == {
        key: LETTERS[letter] for key, letter in rows
    }


def test_common_to_occasional_is_three_to_one_and_occasional_to_rare_nearly_so():
    # In log-odds 1.1, 0 and -1.2: e^1.1 = 3.0, e^-1.2 = 0.30. Judgement.
    assert PRIORS == {"common": 3.0, "occasional": 1.0, "rare": 0.3}
