"""Every refusal of the data files, provoked; and every entry that ships, complete."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from defectlog.guide import EntryError, kinds, library
from defectlog.guide.library import read_folder
from defectlog.guide.row import read_table
from tests.guide.made_up import made_up, table

Spoil = Callable[[dict[str, Any]], None]


def _set(path: str, value: Any) -> Spoil:
    """A spoiler that puts a value at a path such as ``cause.0.facts.0.fact``."""

    def spoil(entry: dict[str, Any]) -> None:
        *way, last = path.split(".")
        where: Any = entry
        for step in way:
            where = where[int(step) if step.isdigit() else step]
        where[int(last) if last.isdigit() else last] = value

    return spoil


def _drop(path: str) -> Spoil:
    def spoil(entry: dict[str, Any]) -> None:
        *way, last = path.split(".")
        where: Any = entry
        for step in way:
            where = where[int(step) if step.isdigit() else step]
        del where[last]

    return spoil


REFUSED: list[tuple[str, Spoil, str]] = [
    ("an unknown word", _set("titel", "x"), "titel.*not a word"),
    ("an unknown word in a fact", _set("cause.0.facts.0.stength", "+"), "stength"),
    ("an unknown word in a check", _set("cause.0.check.0.minute", 1), "minute"),
    ("an unknown word in a fix", _set("fix.0.step", []), "step"),
    ("a title missing", _drop("title"), "title.*missing"),
    ("an empty title", _set("title", " "), "title.*words"),
    ("a code of one letter", _set("code", "Z"), "two capital letters"),
    ("an unknown family", _set("family", "attic"), "attic"),
    ("an unknown concern", _set("concern", "grave"), "grave"),
    ("an unknown prior", _set("cause.0.prior", "often"), "often"),
    ("an unknown fact", _set("cause.0.facts.0.fact", "moon"), "moon.*not a build fact"),
    ("an unknown value", _set("cause.0.facts.0.is", "leaky"), "leaky.*drop_class"),
    ("a text where yes or no belongs", _set("cause.0.facts.2.is", "yes"), "vacuum_lost"),
    ("a number without bounds", _drop("cause.2.facts.0.below"), "above or below"),
    ("a bound on a choice", _set("cause.0.facts.0.below", 3), "below.*not a word"),
    ("an unknown strength", _set("cause.0.facts.0.strength", "++++"), r"\+\+\+\+"),
    ("a value that speaks twice", _set("cause.0.facts.1.is", "fail"), "speaks twice"),
    ("bounds that overlap", _set("cause.2.facts.1.above", 10), "speaks twice"),
    ("a cause without a check", _set("cause.0.check", []), "check.*at least 1"),
    ("a cause without facts", _set("cause.0.facts", []), "facts.*at least 1"),
    ("a cause without a source", _set("cause.0.sources", []), "sources.*at least 1"),
    ("an unknown source", _set("cause.0.sources", ["hearsay"]), "hearsay"),
    ("an unknown fix", _set("cause.0.fixes", ["pray"]), "pray"),
    ("an unknown prevention", _set("cause.0.preventions", ["pray"]), "pray"),
    ("one cause only", _set("cause", [table()["cause"][0]]), "at least 2"),
    ("a cause named twice", _set("cause.1.key", "leak"), "used twice"),
    ("a check named twice", _set("cause.1.check.0.key", "listen"), "used twice"),
    ("a cause named something else", _set("cause.0.key", "something-else"), "always there"),
    ("a check that never takes time", _set("cause.0.check.0.minutes", 0), "minutes"),
    ("a check that is a coin", _set("cause.0.check.0.false_alarm", 0.8), "false alarm"),
    ("a chance of one", _set("cause.0.check.0.hit", 1), "hit"),
    ("a chance under an unknown cause", _set("cause.0.check.0.also", {"x": 0.5}), "no other"),
    ("a chance under its own cause", _set("cause.0.check.0.also", {"leak": 0.5}), "no other"),
    ("a fix without a source", _set("fix.0.sources", []), "sources"),
    ("a fix without a word on when not to", _set("fix.0.not_when", []), "not_when"),
    ("a fix without re-inspection", _set("fix.0.reinspect", []), "reinspect"),
    ("an unknown outcome", _set("fix.0.outcome", "bodge"), "bodge"),
    ("an unknown routine", _set("fix.0.steps", [{"routine": "polka"}]), "polka"),
    ("a fix no cause leads to", _set("fix.0.key", "mend2"), "mend"),
    ("a claim without a source", _set("claim", [{"say": "x", "sources": []}]), "sources"),
    ("an unknown test", _set("unlike.0.test", "taste"), "taste"),
    ("a step that is no table", _set("fix.0.steps", ["x"]), "table"),
    ("an unknown caution", _set("fix.0.steps.0.cautions", ["ghosts"]), "ghosts"),
]


@pytest.mark.parametrize(("spoil", "words"), [pytest.param(s, w, id=i) for i, s, w in REFUSED])
def test_an_entry_is_refused_with(spoil, words):
    entry = table()
    spoil(entry)

    with pytest.raises(EntryError, match=words) as told:
        made_up(entry)
    assert told.value.file == "made-up.toml"
    assert "correct" in str(told.value)


@pytest.mark.parametrize(
    ("step", "caution"),
    [
        ("Sand it flat.", "dust"),
        ("Drill a hole at each end.", "dust"),
        ("Wipe with acetone.", "solvent"),
        ("Use solvent sparingly.", "solvent"),
        ("Wet out the place.", "wet-resin"),
        ("Inject until it shows.", "wet-resin"),
        ("Press a nail into the cup.", "wet-resin"),
        ("Warm it gently.", "heat"),
        ("Post-cure it.", "heat"),
        ("Scrape it off.", "sharp"),
        ("Rub powder over it.", "marking"),
        ("Lay filled paste in.", "runaway"),
        ("Replace ply for ply.", "structure"),
    ],
)
def test_a_hazard_without_its_caution_is_refused(step, caution):
    entry = table()
    entry["fix"][0]["steps"] = [{"do": step, "cautions": []}]

    with pytest.raises(EntryError, match=f"caution “{caution}”"):
        made_up(entry)


def test_a_hazard_in_a_check_needs_its_caution_too():
    entry = table()
    entry["cause"][0]["check"][0]["do"] = "Drill into it."

    with pytest.raises(EntryError, match="dust"):
        made_up(entry)


def test_a_sandwich_is_no_sanding():
    entry = table()
    entry["fix"][0]["steps"] = [{"do": "Turn the sandwich over.", "cautions": []}]

    assert made_up(entry).fixes[0].cautions == ()


def test_a_broken_file_is_refused_by_name(tmp_path: Path):
    (tmp_path / "torn.toml").write_text("title = ", "utf-8")

    with pytest.raises(EntryError, match="torn.toml"):
        read_table(tmp_path / "torn.toml")


ENTRIES = library.HERE / "entries"


def test_one_code_for_two_kinds_is_refused(tmp_path: Path):
    text = (ENTRIES / "bridging.toml").read_text("utf-8").replace('kind  = "resin-rich"\n', "")
    (tmp_path / "bridging.toml").write_text(text, "utf-8")
    (tmp_path / "bridging-again.toml").write_text(text, "utf-8")

    with pytest.raises(EntryError, match="BR.*already"):
        read_folder(tmp_path, library.shared())


def test_a_look_alike_that_is_not_there_is_refused(tmp_path: Path):
    text = (ENTRIES / "pinholes-bag.toml").read_text("utf-8")
    (tmp_path / "pinholes-bag.toml").write_text(text, "utf-8")

    with pytest.raises(EntryError, match="starved-bag.*no other entry"):
        read_folder(tmp_path, library.shared())


@pytest.mark.parametrize("kind", kinds(), ids=lambda kind: kind.key)
def test_every_entry_is_complete(kind):
    assert kind.unlike and kind.photograph and kind.measure and kind.words
    assert any(other.test for other in kind.unlike)
    for cause in kind.causes:
        assert cause.facts and cause.checks and cause.fixes and cause.preventions
        assert cause.sources
        assert cause.why[0].isupper() and cause.why.endswith(".")
        assert all(effect.words[0].islower() or effect.words[0].isdigit() for effect in cause.facts)
    for fix in kind.fixes:
        assert fix.steps and fix.not_when and fix.reinspect and fix.time and fix.sources
    for source in kind.sources:
        assert source.standing != "published" or source.read


@pytest.mark.parametrize("kind", kinds(), ids=lambda kind: kind.key)
def test_no_check_points_to_another_cause_more_than_to_its_own(kind):
    for cause in kind.causes:
        for check in cause.checks:
            assert all(chance <= check.hit for _, chance in check.also), check.key
