"""The command line: what it prints, and one sentence with exit status 2 for a user's error."""

import csv
import json
import socket
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from PIL import Image

from defectlog.cli import cli
from defectlog.facts import FACTS
from defectlog.guide import library
from defectlog.measure.lengths.card import CARD_LAYOUTS
from tests.dot_photo import photographed
from tests.measure.views import drawn_card, seen
from tests.pictures import Surface, render

MEASURE_KEYS = set(
    "image width_px height_px px_per_mm scale_source scale_uncertainty_pct inspected_mm2 "
    "inspected_px not_inspected_fraction void_fraction void_fraction_low void_fraction_high "
    "count density_per_cm2 voids diameters_mm diameters_px largest_mm clustering look threshold "
    "settings warnings version seconds".split()
)
WHY_KEYS = {"kind", "causes", "next_check", "facts_used", "facts_unknown"}
CAUSE_KEYS = set("cause title share raised_by lowered_by checks fixes preventions".split())


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


@pytest.fixture(scope="module")
def surface(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """A rendered surface of known void fraction, as a PNG file."""
    picture = render(Surface(size_mm=(60, 45), fraction=0.03, seed=4))
    file = tmp_path_factory.mktemp("pictures") / "tool-side.png"
    Image.fromarray(picture.grey).save(file)
    return file, picture.fraction


def test_measure_prints_one_json_object_a_line_and_nothing_else(surface) -> None:
    file, truth = surface
    result = run("measure", file, file, "--px-per-mm", 12, "--json")

    assert result.exit_code == 0, result.stderr
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    assert len(lines) == 2
    for line in lines:
        assert set(line) == MEASURE_KEYS
        assert line["scale_source"] == "given" and line["px_per_mm"] == 12
        assert line["void_fraction_low"] <= truth <= line["void_fraction_high"]
    first, second = ({k: v for k, v in line.items() if k != "seconds"} for line in lines)
    assert first == second


def test_lengths_are_null_without_a_scale(surface) -> None:
    line = json.loads(run("measure", surface[0], "--json").stdout)
    assert line["scale_source"] == "none"
    assert line["px_per_mm"] is line["inspected_mm2"] is line["largest_mm"] is None
    assert line["count"] > 0 and all(void["d_mm"] is None for void in line["voids"])


def test_a_region_is_all_that_is_inspected(surface) -> None:
    line = json.loads(run("measure", surface[0], "--region", "100,50,300,200", "--json").stdout)
    assert line["inspected_px"] <= 300 * 200
    assert all(99 <= v["x"] <= 401 and 49 <= v["y"] <= 251 for v in line["voids"])


def test_a_figure_of_the_whole_photo_says_so(surface) -> None:
    whole = run("measure", surface[0]).stdout
    part = run("measure", surface[0], "--region", "100,50,300,200").stdout
    assert "Of the whole photo" in whole
    assert "95 % interval" in part and "whole photo" not in part


def test_what_makes_a_figure_doubtful_is_said_without_json_too(surface) -> None:
    bare = run("measure", surface[0]).stdout.splitlines()
    (line,) = run("measure", surface[0], "--px-per-mm", 12).stdout.splitlines()

    assert bare[0].startswith(str(surface[0])) and "Mind" not in line
    assert any(said.startswith("    Mind: No scale") for said in bare[1:])


def test_table_and_overlay_are_written(surface, tmp_path: Path) -> None:
    table, overlays = tmp_path / "voids.csv", tmp_path / "overlays"
    result = run(
        "measure", surface[0], "--px-per-mm", 12, "--csv", table, "--overlay", overlays, "--json"
    )
    line = json.loads(result.stdout)
    with table.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == line["count"]
    first, (row, *_) = line["voids"][0], rows
    assert float(row["d_mm"]) == pytest.approx(first["d_mm"])
    assert float(row["longest_mm"]) >= first["d_mm"] * 0.99 and float(row["aspect"]) >= 1
    assert 0 <= float(row["edge_px"]) <= line["height_px"] / 2 and row["kind"] == "pinhole"
    with Image.open(overlays / "tool-side-voids.png") as overlay:
        assert overlay.size == (line["width_px"], line["height_px"])


def test_a_broken_file_does_not_stop_the_others(surface, tmp_path: Path) -> None:
    empty, text = tmp_path / "empty.jpg", tmp_path / "words.jpg"
    empty.write_bytes(b"")
    text.write_text("not a picture at all")
    result = run("measure", empty, surface[0], text, tmp_path / "gone.jpg", "--json")

    assert result.exit_code == 2
    assert len(result.stdout.splitlines()) == 1
    assert len(result.stderr.splitlines()) == 3
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--px-per-mm", "-3"], "above 0"),
        (["--px-per-mm", "12", "--card"], "more than one way"),
        (["--region", "1,2,3"], "not a region"),
        (["--region", "1,2,0,4"], "no area"),
        (["--region", "a,b,c,d"], "not a number"),
        (["--card"], "no scale card"),
        (["--printed", "120,120"], "give --card with it"),
        (["--card", "--printed", "120"], "not two lengths"),
        (["--card", "--printed", "120,a"], "not a number"),
        (["--card", "--printed", "12,120"], "100 to 140"),
        (["--card", "--printed", "120,124.5"], "measure both again"),
        (["--card-mm", "-1"], ""),
        (["--look", "odd"], "odd"),
    ],
)
def test_a_wrong_option_is_one_sentence_and_status_2(surface, words, said: str) -> None:
    result = run("measure", surface[0], *words)
    assert result.exit_code == 2, result.output
    assert said in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


def test_a_card_printed_too_small_is_put_right_by_its_check_lines(tmp_path: Path) -> None:
    grey, true, _ = seen(drawn_card(CARD_LAYOUTS["a4"]), tilt_deg=6)
    file = tmp_path / "card.png"
    Image.fromarray(grey).save(file)

    as_found = json.loads(run("measure", file, "--card", "--json").stdout)
    # Printed at 96 %, a line of 120 mm reads 115.2: the camera stood nearer than it seemed.
    right = json.loads(run("measure", file, "--card", "--printed", "115.2,115.2", "--json").stdout)

    assert as_found["px_per_mm"] == pytest.approx(true, rel=0.003)
    assert right["px_per_mm"] == pytest.approx(true / 0.96, rel=0.003)
    assert right["scale_source"] == "card"


def test_why_ranks_and_names_the_facts_it_used() -> None:
    result = run("why", "peel-tear", "--fact", "peel_fold_back_deg=90", "--json")
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    assert set(told) == WHY_KEYS
    assert all(set(cause) == CAUSE_KEYS for cause in told["causes"])
    assert sum(cause["share"] for cause in told["causes"]) == pytest.approx(1)
    assert "peel_fold_back_deg" in told["facts_used"]


def test_why_in_words_leads_with_the_verdict() -> None:
    result = run("why", "dry-spot", "--fact", "process=infusion")
    assert result.exit_code == 0, result.stderr
    assert library.kind("dry-spot").title in result.stdout


def test_why_in_words_ends_with_the_names_of_facts_it_takes() -> None:
    names = run("why", "dry-spot", "--fact", "process=infusion").stdout.splitlines()[-1]
    listed = names.removeprefix("Not noted, would speak: ").split(", ")
    assert "process" not in listed
    assert listed
    assert all(name in FACTS for name in listed)


def test_guide_finds_a_kind_by_misspelt_words_and_says_how_it_read_them() -> None:
    result = run("guide", "--search", "stikcy face")
    assert result.exit_code == 0, result.stderr
    assert "“stikcy” read as sticky" in result.stdout.splitlines()[0]
    assert "tacky-undercure" in result.stdout


def test_guide_search_in_json_is_one_object() -> None:
    told = json.loads(run("guide", "--search", "white specks", "--json").stdout)
    assert set(told) == {"search", "read_as", "left_out", "kinds"}
    assert "pinholes-tool" in [kind["kind"] for kind in told["kinds"]]


def test_guide_without_words_lists_every_kind() -> None:
    lines = run("guide").stdout.splitlines()
    assert [line.split()[0] for line in lines] == [kind.key for kind in library.kinds()]


def test_guide_says_nothing_was_found() -> None:
    result = run("guide", "--search", "moonlight qqqq")
    assert result.exit_code == 0
    assert "Nothing in the guide" in result.stdout


@pytest.mark.parametrize("kind", library.kinds(), ids=lambda kind: kind.key)
def test_guide_tells_a_kind_in_words_and_in_json(kind) -> None:
    words, told = run("guide", kind.key).stdout, run("guide", kind.key, "--json").stdout
    told = json.loads(told)
    assert kind.title in words.splitlines()[0]
    assert [cause["cause"] for cause in told["causes"]] == [cause.key for cause in kind.causes]
    for fix, fix_told in zip(kind.fixes, told["fixes"], strict=True):
        begins = words.index(f"Fix: {fix.title} (")
        steps = words.index("  1. ", begins)
        assert [c["caution"] for c in fix_told["cautions"]] == [c.key for c in fix.cautions]
        assert all(begins < words.index(f"! {c.title}:", begins) < steps for c in fix.cautions)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["why", "gremlin"], "defectlog guide lists"),
        (["guide", "gremlin"], "no kind “gremlin”"),
        (["guide", "peel-tear", "--search", "torn"], "give one of them"),
        (["why", "dry-spot", "--fact", "moon=full"], "not a known build fact"),
        (["why", "dry-spot", "--fact", "moon=full"], "defectlog why KIND ends with the names"),
        (["why", "dry-spot", "--fact", "proces=infusion"], "close names are process"),
        (["why", "dry-spot", "--fact", "cure_c=hot"], "not a number"),
        (["serve", "--host", "0.0.0.0"], "does not listen on"),
        (["serve", "--host", "192.168.1.20"], "does not listen on"),
        (["demo", "--host", "::"], "does not listen on"),
        (["card", "-o", "/nowhere/at/all.pdf"], "could not be written"),
    ],
)
def test_a_users_error_is_one_sentence_and_status_2(words: list[str], said: str) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_a_port_in_use_is_said_so(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        result = run("serve", "--folder", tmp_path, "--port", taken.getsockname()[1])
    assert result.exit_code == 2
    assert "in use" in result.stderr


def test_the_card_is_written(tmp_path: Path) -> None:
    out = tmp_path / "card.pdf"
    result = run("card", "--paper", "id1", "-o", out)
    assert result.exit_code == 0, result.stderr
    assert out.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("command", sorted(cli.commands))
def test_every_command_says_what_one_gets(command: str) -> None:
    result = run(command, "--help")
    assert result.exit_code == 0
    assert f"defectlog {command}" in result.stdout  # an example that can be pasted


def test_dots_makes_the_sheet_and_reads_a_photo_of_it(tmp_path: Path) -> None:
    sheet, photo = tmp_path / "dots.pdf", tmp_path / "dots.jpg"
    photo.write_bytes(photographed("letter", px_per_mm=7))

    made = run("dots", "--paper", "letter", "-o", sheet)
    read = run("dots", "--measure", photo, "--json")

    assert made.exit_code == 0 and sheet.read_bytes().startswith(b"%PDF")
    assert read.exit_code == 0, read.stderr
    told = json.loads(read.stdout)
    assert told["paper"] == "letter" and len(told["fields"]) == 6
    assert "95 % interval" in run("dots", "--measure", photo).stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "either -o or --measure"),
        (["--measure", "nowhere.jpg"], "cannot be opened"),
        (["-o", "no-such-folder/dots.pdf"], "could not be written"),
        (["--paper", "a3", "-o", "x.pdf"], "a3"),
    ],
)
def test_dots_tells_a_wrong_option_in_one_sentence(words, said: str) -> None:
    result = run("dots", *words)

    assert result.exit_code == 2
    assert said in result.stderr and "Traceback" not in result.stderr
