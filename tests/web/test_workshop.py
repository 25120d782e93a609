"""The Workshop: parts, what is acceptable, the name on the cover, the scale card."""

import html
import re

import pytest

from defectlog.bench.parts import LimitPlan
from defectlog.records import Part
from tests.builders import make_part


def text(answer):
    return " ".join(answer.get_data(as_text=True).replace("\xa0", " ").split())


def limits_of(kept, number=1):
    return kept(
        lambda s: {
            x.kind: (x.largest_mm, x.per_dm2, x.area_fraction) for x in s.get(Part, number).limits
        }
    )


def test_a_part_is_named_with_its_mass_in_grams(client, kept):
    answer = client.post(
        "/workshop/parts/new",
        data={"name": " Locker door ", "mould": "mould 2", "target_mass_g": "812,5", "once": "a"},
    )

    assert answer.status_code == 303
    assert "Target mass 812.5 g" in text(client.get("/workshop/")) or "target mass 812.5 g" in text(
        client.get("/workshop/")
    )
    assert kept(lambda s: s.get(Part, 1).name) == "Locker door"


def test_a_part_form_with_faults_comes_back_as_it_was_typed(client, kept):
    answer = client.post(
        "/workshop/parts/new",
        data={"name": "Door", "mould": "mould <2>", "target_mass_g": "heavy", "once": "a"},
    )

    assert answer.status_code == 400
    assert "“heavy” is not a number" in text(answer)
    assert 'value="mould &lt;2&gt;"' in text(answer)
    assert kept(lambda s: s.query(Part).count()) == 0


def test_two_parts_cannot_have_one_name(client, kept):
    kept(make_part)

    answer = client.post("/workshop/parts/new", data={"name": "locker DOOR", "once": "a"})

    assert answer.status_code == 400
    assert "There is a part called Locker door already" in text(answer)


def opened_part(client) -> dict[str, str]:
    """The form of part 1 as a browser would send it back untouched."""
    page = client.get("/workshop/parts/1/edit").text
    fields = dict(re.findall(r'name="((?:was\.)?[a-z_]+)" value="([^"]*)"', page))
    plan = re.search(r'name="laminate_plan"[^>]*>\n([^<]*)</textarea>', page)
    return {name: html.unescape(words) for name, words in fields.items()} | {
        "laminate_plan": html.unescape(plan[1]).replace("\n", "\r\n")
    }


def send_part(client, fields: dict[str, str], once: str):
    return client.post("/workshop/parts/1/edit", data=fields | {"once": once})


def test_two_screens_edit_one_part_and_neither_undoes_the_other(client, kept):
    kept(lambda s: make_part(s, mould="mould 1", laminate_plan="2 × glass\n1 × core"))
    at_the_desk, on_the_phone = opened_part(client), opened_part(client)

    first = send_part(client, at_the_desk | {"mould": "mould 2"}, "a")
    second = send_part(client, on_the_phone | {"target_mass_g": "190,5"}, "b")

    assert (first.status_code, second.status_code) == (303, 303)
    part = kept(lambda s: (s.get(Part, 1).mould, s.get(Part, 1).target_mass_g))
    assert part == ("mould 2", 190.5)
    assert kept(lambda s: s.get(Part, 1).laminate_plan) == "2 × glass\n1 × core"


def test_a_detail_changed_on_both_screens_is_asked_about_before_it_is_replaced(client, kept):
    kept(lambda s: make_part(s, mould="mould 1", target_mass_g=188.0))
    at_the_desk, on_the_phone = opened_part(client), opened_part(client)
    send_part(client, at_the_desk | {"mould": "mould 2", "target_mass_g": "189"}, "a")

    refused = send_part(client, on_the_phone | {"mould": "mould 3"}, "b")

    assert refused.status_code == 409
    assert "Mould: “mould 2” was saved on another screen meanwhile" in text(refused)
    assert 'name="mould" value="mould 3"' in text(refused)  # what was typed is still there
    assert 'name="target_mass_g" value="189"' in text(refused)  # and what was not is up to date
    assert kept(lambda s: s.get(Part, 1).mould) == "mould 2"

    shown = dict(re.findall(r'name="((?:was\.)?[a-z_]+)" value="([^"]*)"', refused.text))
    assert send_part(client, shown, "c").status_code == 303
    part = kept(lambda s: (s.get(Part, 1).mould, s.get(Part, 1).target_mass_g))
    assert part == ("mould 3", 189)


def test_editing_a_part_keeps_its_limits(client, kept):
    kept(lambda s: make_part(s, limits={"dry-spot": LimitPlan(largest_mm=9.5)}))

    client.post("/workshop/parts/1/edit", data={"name": "Locker lid", "once": "a"})

    assert kept(lambda s: s.get(Part, 1).name) == "Locker lid"
    assert limits_of(kept) == {"dry-spot": (9.5, None, None)}


def test_a_limit_is_typed_in_mm_per_dm2_and_per_cent(client, kept):
    kept(lambda s: make_part(s, mould="mould 2", target_mass_g=640.0))

    answer = client.post(
        "/workshop/parts/1/limits",
        data={
            "kind": "dry-spot",
            "largest_mm": "9,5",
            "per_dm2": "2",
            "area_pct": "0.5",
            "once": "a",
        },
    )

    assert answer.status_code == 303
    assert limits_of(kept) == {"dry-spot": (9.5, 2.0, 0.005)}
    assert kept(lambda s: s.get(Part, 1).target_mass_g) == 640.0
    page = text(client.get("/workshop/parts/1"))
    assert "largest 9.5 mm, 2 per dm², 0.5 % of the area at most" in page


def test_a_limit_can_be_removed(client, kept):
    kept(lambda s: make_part(s, limits={"dry-spot": LimitPlan(largest_mm=9.5)}))

    client.post("/workshop/parts/1/limits/dry-spot/remove", data={"once": "a"})

    assert limits_of(kept) == {}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"largest_mm": "x"}, "“x” is not a number"),
        ({"largest_mm": "-1"}, "A limit cannot be negative"),
        ({"area_pct": "101"}, "cannot be above 100 %"),
        ({}, "The limit says nothing yet"),
        ({"kind": "", "largest_mm": "1"}, "No kind is chosen"),
    ],
)
def test_a_limit_that_cannot_be_is_refused_beside_its_field(client, kept, typed, said):
    kept(make_part)

    answer = client.post(
        "/workshop/parts/1/limits", data={"kind": "dry-spot", "once": "a", **typed}
    )

    assert answer.status_code == 400
    assert said in text(answer)
    assert "aria-invalid" in text(answer)
    assert limits_of(kept) == {}


def test_the_workshop_takes_the_name_it_is_given(client):
    client.post("/workshop/name", data={"name": "Heron Slip", "once": "a"})

    assert '<span class="spine__name">Heron Slip</span>' in text(client.get("/"))


def test_a_workshop_without_a_name_is_refused(client):
    answer = client.post("/workshop/name", data={"name": " ", "once": "a"})

    assert answer.status_code == 400
    assert "needs a name" in text(answer)


@pytest.mark.parametrize("paper", ["a4", "letter", "id1"])
def test_the_scale_card_comes_as_a_pdf(client, paper):
    answer = client.get(f"/workshop/scale-card/{paper}.pdf")

    assert answer.mimetype == "application/pdf"
    assert answer.data.startswith(b"%PDF-")


def test_a_card_for_an_unknown_paper_is_not_there(client):
    assert client.get("/workshop/scale-card/a7.pdf").status_code == 404
