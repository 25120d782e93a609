import csv
import io
import re
from xml.etree import ElementTree

import pytest

from tests.builders import make_finding, make_part, make_photo
from tests.measured import add_build, add_series

SVG = "{http://www.w3.org/2000/svg}"
# Mean 2.49 %, mean range of the nine steps 1.03 %: the upper limit is 5.2 %, by hand.
BEFORE = [0.020, 0.022, 0.019, 0.023, 0.021, 0.060, 0.021, 0.020, 0.022, 0.021]
AFTER = [0.006, 0.007, 0.005, 0.006, 0.006]


@pytest.fixture
def part_id(app):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        part = make_part(session, "Day-hatch lid")
        add_series(session, part, BEFORE, process="bagged-wet-layup")
        add_series(session, part, [*AFTER, None, 0.006], process="infusion")
        photo = make_photo(session, add_build(session, part, None))
        for kind in ["dry-spot"] * 4 + ["pinholes-tool"]:
            make_finding(session, photo, kind=kind)
        return part.id


def drawings(page: str) -> list[ElementTree.Element]:
    """The charts of a page, read as strict XML."""
    return [ElementTree.fromstring(svg) for svg in re.findall(r"<svg.*?</svg>", page, re.DOTALL)]


def test_an_empty_workshop_is_told_where_to_begin(client):
    page = client.get("/trends/").text

    assert "Nothing to compare yet" in page
    assert "/workshop/" in page


def test_a_part_without_measurements_is_told_what_to_do(app, client):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        add_build(session, make_part(session), None)

    page = client.get("/trends/").text

    assert "No build has a void measurement yet" in page
    assert "press Measure voids" in page
    assert 'href="/builds/1#photos"' in page


def test_the_first_page_is_that_of_the_part_with_most_builds(client, part_id):
    first, asked = client.get("/trends/").text, client.get(f"/trends/{part_id}").text

    assert first[first.index("<main") :] == asked[asked.index("<main") :]


def test_the_sentence_stands_above_the_chart(client, part_id):
    page = client.get(f"/trends/{part_id}").text

    assert page.index("Void fraction fell from") < page.index("<svg")


def test_every_point_is_a_link_to_its_build_with_a_name(client, part_id):
    phone, desk = drawings(client.get(f"/trends/{part_id}").text)[:2]

    for drawing in (phone, desk):
        links = drawing.findall(f"{SVG}a")
        assert [link.get("href") for link in links] == [
            "#build-6" if number == 6 else f"/builds/{number}" for number in (*range(1, 16), 17)
        ]
        assert all(link.get("aria-label").startswith("Build ") for link in links)


@pytest.mark.parametrize(
    ("result", "unit"),
    [("effort", "↑ min"), ("pinholes", "↑ per dm²"), ("findings", "↑ findings a build")],
)
def test_the_axis_says_what_its_figures_are_in(app, client, result, unit):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        part = make_part(session)
        for minutes in (100.0, 110.0, 105.0, 95.0, 102.0, 99.0):
            add_build(session, part, 0.01, effort_min=minutes)

    charts = drawings(client.get(f"/trends/?result={result}").text)

    assert unit in [words.text for words in charts[0].iter(f"{SVG}text")]


def test_a_point_outside_has_another_shape_and_leads_to_what_was_different(client, part_id):
    page = client.get(f"/trends/{part_id}").text
    desk = drawings(page)[1]

    outside = [link for link in desk.findall(f"{SVG}a") if link.find(f"{SVG}path") is not None]

    assert [link.get("href") for link in outside] == ["#build-6"]
    assert 'id="build-6"' in page and "Nothing written down sets it apart" in page
    assert "above the upper limit" in outside[0].get("aria-label")


def test_the_marked_change_is_drawn_with_its_words(client, part_id):
    page = client.get(f"/trends/{part_id}").text
    desk = drawings(page)[1]

    assert len(desk.findall(f".//{SVG}line[@class='plot__change']")) == 1
    assert "vacuum infusion" in "".join(desk.itertext())
    assert "bagged wet lay-up before, vacuum infusion from build 11 on." in page


def test_links_do_not_lie_in_an_image(client, part_id):
    for drawing in drawings(client.get(f"/trends/{part_id}").text):
        assert drawing.get("role") != "img"


def test_nothing_is_styled_or_scripted_inline(client, part_id):
    page = client.get(f"/trends/{part_id}").text

    assert not re.search(r"\sstyle=|\son[a-z]+=|<style|<script(?![^>]*\bsrc=)", page)


def test_the_bars_lead_to_the_findings_behind_them(client, part_id):
    page = client.get(f"/trends/{part_id}").text
    listed = client.get(f"/trends/kinds/dry-spot?part={part_id}").text

    assert f'href="/trends/kinds/dry-spot?part={part_id}"' in page
    assert page.index("kinds/dry-spot") < page.index("kinds/pinholes-tool")
    assert listed.count('class="finding"') == 4


def test_the_voids_can_be_had_as_csv(client, part_id):
    answer = client.get(f"/trends/result.csv?part={part_id}")

    rows = list(csv.DictReader(io.StringIO(answer.text)))

    assert answer.mimetype == "text/csv"
    assert [float(row["value"]) for row in rows if row["value"]] == [
        *BEFORE,
        *AFTER,
        0.006,
    ]
    assert [row["build"] for row in rows if row["outside"] == "yes"] == ["6"]


def test_the_findings_can_be_had_as_csv(client, part_id):
    rows = list(csv.DictReader(io.StringIO(client.get(f"/trends/kinds.csv?part={part_id}").text)))

    assert [(row["kind"], row["count"], row["share"]) for row in rows] == [
        ("dry-spot", "4", "0.8"),
        ("pinholes-tool", "1", "0.2"),
    ]


def test_a_spreadsheet_is_handed_no_formula(app, client):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        photo = make_photo(session, add_build(session, make_part(session), None))
        make_finding(session, photo).kind = "=1+1"

    assert "'=1+1" in client.get("/trends/kinds.csv?part=1").text


@pytest.mark.parametrize("path", ["", "result.csv", "kinds.csv", "kinds/dry-spot"])
def test_a_part_that_is_not_there_is_not_found(client, part_id, path):
    assert client.get(f"/trends/{path}?part=99").status_code == 404


def test_one_build_alone_can_be_shown(app, client):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        add_build(session, make_part(session), 0.0)

    page = client.get("/trends/1")

    assert page.status_code == 200
    assert "not enough to say what is usual" in page.text


def test_findings_of_a_kind_there_is_not_are_not_found(client, part_id):
    answer = client.get(f"/trends/kinds/no-such-kind?part={part_id}")

    assert answer.status_code == 404
    assert "There is no kind of defect no-such-kind" in answer.text


def test_a_kind_without_findings_is_said_to_have_none(client, part_id):
    assert "0\N{NO-BREAK SPACE}findings" in client.get(f"/trends/kinds/warp?part={part_id}").text


@pytest.mark.parametrize("name", ["result", "kinds"])
def test_a_chart_can_be_had_as_a_picture(client, part_id, name):
    page = client.get(f"/trends/{part_id}").text

    svg = client.get(f"/trends/{name}.svg?part={part_id}")
    png = client.get(f"/trends/{name}.png?part={part_id}")

    assert (
        f"/trends/{name}.svg?part={part_id}" in page
        and f"/trends/{name}.png?part={part_id}" in page
    )
    assert svg.headers["Content-Type"] == "image/svg+xml"
    assert png.headers["Content-Type"] == "image/png" and png.data[:8] == b"\x89PNG\r\n\x1a\n"
    for answer in (svg, png):
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    words = " ".join(ElementTree.fromstring(svg.data).itertext())
    assert "Day-hatch lid" in words and "Our workshop: " in words and "Drawn " in words


def test_the_picture_has_a_point_for_every_number_of_the_csv(client, part_id):
    rows = list(csv.DictReader(io.StringIO(client.get(f"/trends/result.csv?part={part_id}").text)))
    field = ElementTree.fromstring(client.get(f"/trends/result.svg?part={part_id}").data)[-3]

    inside = [row for row in rows if row["value"] and row["outside"] == "no"]
    heights = [float(circle.get("cy")) for circle in field.iter(f"{SVG}circle")]
    assert len(heights) == len(inside)
    # Higher on the paper is a smaller y: the order of heights is that of the numbers.
    values = [float(row["value"]) for row in inside]
    assert sorted(range(len(values)), key=lambda i: (values[i], i)) == sorted(
        range(len(values)), key=lambda i: (-heights[i], i)
    )


def test_a_part_without_numbers_has_no_picture_and_says_so(app, client):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        make_part(session)

    for name in ("result.svg", "kinds.png"):
        assert client.get(f"/trends/{name}?part=1").status_code == 404


RESULT_KEYS = ("voids", "pinholes", "largest", "findings", "mass", "resin-left", "effort", "rework")


@pytest.mark.parametrize("key", RESULT_KEYS)
def test_every_result_is_a_sentence_whether_there_is_much_or_nothing(client, part_id, key):
    page = client.get(f"/trends/?part={part_id}&result={key}&runs=1")

    assert page.status_code == 200
    assert '<p class="say">' in page.text and 'aria-current="page"' in page.text
    assert not re.search(r"\b(nan|inf|None)\b", re.sub(r"<script.*?</script>", "", page.text))
    assert client.get(f"/trends/result.csv?part={part_id}&result={key}").status_code == 200


@pytest.mark.parametrize(
    "asked, field",
    [("part=x", "f-part"), ("part=&builds=nine", "f-builds"), ("part=&process=magic", "f-process")],
)
def test_a_set_that_cannot_be_read_comes_back_with_what_was_typed(client, part_id, asked, field):
    page = client.get(f"/trends/?{asked}&material=Tin+7")

    assert page.status_code == 400
    assert f'href="#{field}"' in page.text and f'id="{field}"' in page.text
    assert 'value="Tin 7"' in page.text


def test_ticked_builds_are_a_set_with_a_name_in_the_address(client, part_id):
    page = client.get("/trends/?part=&tick=1&tick=2&tick=11&name=Winter").text

    assert "<h1>Winter</h1>" in page
    assert [link.get("href") for link in drawings(page)[0].findall(f"{SVG}a")] == [
        "/builds/1",
        "/builds/2",
        "/builds/11",
    ]
    assert "builds=1,+2,+11" in page or "builds=1%2C+2%2C+11" in page or "builds=1,%202" in page


def test_no_build_like_that_is_said(client, part_id):
    page = client.get("/trends/?part=&material=nothing+of+ours").text

    assert "No build is like that" in page


def test_all_parts_name_the_part_at_every_point(client, part_id):
    page = client.get("/trends/?part=").text

    assert "<h1>All parts</h1>" in page
    assert 'aria-label="Build 1 (Day-hatch lid),' in page


def test_the_moving_average_and_the_steps_can_be_had_as_pictures(client, part_id):
    page = client.get(f"/trends/{part_id}").text

    assert "Small drifts:" in page and "Steps from build to build" in page
    for chart in ("drift", "steps"):
        assert client.get(f"/trends/result.svg?part={part_id}&chart={chart}").status_code == 200
    assert client.get(f"/trends/result.svg?part={part_id}&chart=none").status_code == 404


def test_what_was_different_stands_under_a_build_outside(app, client):
    with app.extensions["defectlog"][0].write() as session, session.begin():
        part = make_part(session)
        for void in BEFORE:
            add_build(session, part, void, ambient_c=31 if void == 0.06 else 20)

    page = client.get(f"/trends/{part.id}").text

    assert "What was different about build 6" in page
    assert "Air temperature: 31\N{NO-BREAK SPACE}°C (neighbours 20\N{NO-BREAK SPACE}°C)" in page
