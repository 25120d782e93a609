"""A made-up kind with round numbers, so that every sum can be done by hand."""

from copy import deepcopy
from typing import Any

from defectlog.guide import Kind, library
from defectlog.guide.schema import read_kind

ENTRY: dict[str, Any] = {
    "title": "Made-up defect",
    "code": "ZZ",
    "family": "tool-side",
    "concern": "cosmetic",
    "definition": "A defect made up for the tests.",
    "look": "Like nothing.",
    "feel": "Like nothing.",
    "words": ["made-up"],
    "photograph": ["It."],
    "measure": ["Its size in mm."],
    "unlike": [{"title": "A real one", "tell": "It is real."}],
    "cause": [
        {
            "key": "leak",
            "title": "Leak",
            "why": "Air came in.",
            "prior": "common",
            "facts": [
                {"fact": "drop_class", "is": "fail", "strength": "+++", "words": "it failed"},
                {"fact": "drop_class", "is": "tight", "strength": "--", "words": "it was tight"},
                {"fact": "vacuum_lost", "is": True, "strength": "++", "words": "vacuum was lost"},
                {"fact": "process", "is": "wet-layup", "strength": "x", "words": "no bag"},
                {"fact": "knocked", "is": True, "strength": "+", "words": "it was knocked"},
            ],
            "check": [
                {
                    "key": "listen",
                    "do": "Listen at the tape.",
                    "positive": "it hisses",
                    "minutes": 4,
                    "hit": 0.8,
                    "false_alarm": 0.1,
                }
            ],
            "fixes": ["mend"],
            "preventions": ["watch"],
            "sources": ["judgement"],
        },
        {
            "key": "gas",
            "title": "Gas",
            "why": "Gas came out.",
            "prior": "common",
            "facts": [{"fact": "degassed", "is": False, "strength": "++", "words": "not degassed"}],
            "check": [
                {
                    "key": "look",
                    "do": "Look.",
                    "positive": "it is even",
                    "minutes": 1,
                    "hit": 0.6,
                    "false_alarm": 0.4,
                }
            ],
            "fixes": ["mend"],
            "preventions": ["watch"],
            "sources": ["judgement"],
        },
        {
            "key": "cold",
            "title": "Cold",
            "why": "It was cold.",
            "prior": "rare",
            "facts": [
                {"fact": "resin_temp_c", "below": 18, "strength": "+", "words": "cold resin"},
                {
                    "fact": "resin_temp_c",
                    "above": 18,
                    "below": 25,
                    "strength": "-",
                    "words": "the resin was warm enough",
                },
            ],
            "check": [
                {
                    "key": "feel",
                    "do": "Feel it.",
                    "positive": "it is cold",
                    "minutes": 2,
                    "hit": 0.9,
                    "false_alarm": 0.2,
                    "also": {"gas": 0.7},
                }
            ],
            "fixes": ["mend"],
            "preventions": ["watch"],
            "sources": ["common-practice"],
        },
    ],
    "fix": [
        {
            "key": "mend",
            "title": "Mend it",
            "outcome": "rework",
            "time": "an hour",
            "sources": ["judgement"],
            "steps": [{"do": "Look at it.", "cautions": []}],
            "not_when": ["It carries load."],
            "reinspect": ["Look again."],
        }
    ],
    "prevention": [{"key": "watch", "do": "Watch it.", "sources": ["judgement"]}],
}


def table() -> dict[str, Any]:
    """A fresh copy of the entry's table, to be spoilt by a test."""
    return deepcopy(ENTRY)


def made_up(entry: dict[str, Any] | None = None) -> Kind:
    """The made-up kind, read as any other."""
    return read_kind("made-up", entry or table(), library.shared())
