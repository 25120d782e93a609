"""The settings of one fact that builds were made with: words, yes or no, or halves of a number."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from defectlog.charts import middle_cut
from defectlog.facts import Fact, fact_text, fact_words
from defectlog.units import with_unit

UP_TO, ABOVE = "up-to", "above"
LEAST_BUILDS = 2


@dataclass(frozen=True, slots=True)
class SettingChoice:
    """One setting: its ``key`` in an address, its words, and on how many builds it was used."""

    key: str
    words: str
    builds: int


@dataclass(frozen=True, slots=True)
class FactSettings:
    """The settings of one fact on some builds, most builds first.

    ``cut`` is the number that parts the builds in two halves, for a fact that is a number.
    ``keys`` are the settings by build, in the order given; None where nobody filled it in.
    """

    fact: Fact
    choices: tuple[SettingChoice, ...]
    cut: float | None
    keys: tuple[str | None, ...]

    @property
    def can_be_compared(self) -> bool:
        """Whether two builds or more were made with each of two settings."""
        return sum(one.builds >= LEAST_BUILDS for one in self.choices) >= 2

    def find(self, key: str) -> SettingChoice | None:
        """The setting of that key, if a build was made with it."""
        return next((one for one in self.choices if one.key == key), None)


def settings_of(fact: Fact, values: Sequence[Any]) -> FactSettings:
    """The settings of a fact, from its value on every build, None where it is not known.

    A number is parted where as many builds lie up to it as above, whatever they came to.
    """
    known = [value for value in values if value is not None]
    cut = None
    if fact.kind == "number":
        if len(set(known)) > 1:
            cut = middle_cut([float(value) for value in known])
        elif known:
            cut = float(known[0])
    keys = tuple(None if value is None else _key(fact, value, cut) for value in values)
    counted = Counter(key for key in keys if key is not None)
    words = {
        key: _words(fact, value, cut)
        for key, value in zip(keys, values, strict=True)
        if key is not None
    }
    choices = tuple(SettingChoice(key, words[key], n) for key, n in counted.most_common())
    return FactSettings(fact, choices, cut, keys)


def _key(fact: Fact, value: Any, cut: float | None) -> str:
    if cut is not None:
        return UP_TO if value <= cut else ABOVE
    return fact_text(fact, value)


def _words(fact: Fact, value: Any, cut: float | None) -> str:
    if cut is not None:
        edge = with_unit(cut, fact.unit, 4)
        return f"up to {edge}" if value <= cut else f"above {edge}"
    if fact.kind == "yes-no":
        return f"{fact.label.lower()}: {fact_words(fact, value)}"
    return fact_words(fact, value)
