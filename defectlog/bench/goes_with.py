"""What goes with what: the build facts that a result moves with, ranked, with their intervals."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from defectlog.bench.build_sets import BuildSet, ChosenBuilds, choose_builds, facts_of
from defectlog.bench.fact_columns import (
    ALONG,
    COLUMN_FACTS,
    WITH_TIME,
    column_label,
    fact_columns,
    gone_with,
    is_worked_out,
    one_after_the_other,
)
from defectlog.bench.goes_with_words import (
    Told,
    along_words,
    asides,
    effect_words,
    found_sentence,
    table_ends,
    time_words,
    unjudged_lines,
)
from defectlog.bench.results import Result, ResultValues, result_values
from defectlog.charts import Association, Column, associations, moved_together
from defectlog.charts.association import RATE
from defectlog.facts import FACTS, fact_text

_SAME_SHARE = 1 / 3


@dataclass(frozen=True, slots=True)
class Moved:
    """One fact and how the result moves with it.

    ``told`` is that in words, ``when`` a sentence if it changed with time. ``settings`` are the
    two to compare, as they stand in an address; empty for numbers. ``is_fact`` is False for what
    follows from other facts.
    """

    name: str
    label: str
    association: Association
    told: Told
    when: str
    settings: tuple[str, ...]
    is_fact: bool


@dataclass(frozen=True, slots=True)
class Bundle:
    """Facts that moved on the same builds, so that nobody can tell which of them it is.

    The first is the one furthest from chance; ``along`` says which other bundles went largely
    the same way.
    """

    facts: tuple[Moved, ...]
    along: str

    @property
    def lead(self) -> Moved:
        return self.facts[0]


@dataclass(frozen=True, slots=True)
class GoesWith:
    """What a result goes with, and the sentence that says it.

    ``found`` are the facts that pass the correction, bundled; ``dull`` those that do not,
    ``unjudged`` one line for each reason why the others could not be. ``builds`` is how many
    have the result.
    """

    sentence: str
    made: ResultValues
    chosen: ChosenBuilds
    builds: int
    found: tuple[Bundle, ...]
    dull: tuple[Moved, ...]
    unjudged: tuple[str, ...]
    asides: tuple[str, ...]

    @property
    def result(self) -> Result:
        return self.made.result


def goes_with(
    session: Session, wanted: BuildSet, result: Result, *, surface: str = "", kind: str = ""
) -> GoesWith:
    """Hold a result of a set of builds against every condition written down of them.

    Parameters
    ----------
    surface, kind : optional
        As for ``result_values``.

    Raises
    ------
    NotFoundError, FieldError
        If the set, or the kind, cannot be.

    Notes
    -----
    Builds are compared inside their part. Of a large set the newest builds are looked at, as in
    the trends.
    """
    chosen = choose_builds(session, wanted)
    made = result_values(session, result, chosen, surface=surface, kind=kind)
    with_value = [one for one in chosen.made if one.number in made.values]
    numbers = [one.number for one in with_value]
    values = [made.values[number].value for number in numbers]
    if len(set(values)) < 2:
        sentence = found_sentence(made, chosen.words, values, (), 0)
        return GoesWith(sentence, made, chosen, len(values), (), (), (), ())
    known = facts_of(session, numbers, COLUMN_FACTS)
    columns = fact_columns(known, numbers)
    parts = [one.part_id for one in with_value]
    judged, unjudged = associations(
        values, columns, strata=parts, by_means=is_often_the_same(values)
    )
    by_name = {column.name: column for column in columns}
    moved = [_moved(result, one, by_name[one.name], numbers) for one in judged]
    found = _bundles([one for one in moved if one.association.q_value <= RATE], by_name)
    return GoesWith(
        sentence=found_sentence(
            made, chosen.words, values, [[m.label for m in one.facts] for one in found], len(judged)
        ),
        made=made,
        chosen=chosen,
        builds=len(values),
        found=found,
        dull=tuple(one for one in moved if one.association.q_value > RATE),
        unjudged=unjudged_lines(unjudged),
        asides=asides(judged, chosen.older, len(set(parts))),
    )


def is_often_the_same(values: Sequence[float]) -> bool:
    """Whether so many builds came to the same, as counts do, that their middle tells nothing."""
    return max(Counter(values).values()) >= _SAME_SHARE * len(values)


def goes_with_table(shown: GoesWith) -> list[list[object]]:
    """The numbers behind the list, a heading row first; fractions 0–1, else as the unit says."""
    unit = "fraction" if shown.result.factor != 1 else shown.result.unit
    heading = "fact result unit builds from to effect low high confidence p orders q passes bundle"
    rows: list[list[object]] = [heading.split()]
    bundled = [(one, place) for place, b in enumerate(shown.found, 1) for one in b.facts]
    for one, bundle in (*bundled, *((one, None) for one in shown.dull)):
        it = one.association
        rows.append(
            [
                one.label,
                shown.made.title,
                unit,
                it.builds,
                *table_ends(it),
                it.slope.value,
                it.slope.low,
                it.slope.high,
                it.slope.confidence,
                it.p_value,
                it.splits,
                it.q_value,
                "yes" if it.q_value <= RATE else "no",
                bundle,
            ]
        )
    return rows


def _bundles(passed: Sequence[Moved], by_name: Mapping[str, Column]) -> tuple[Bundle, ...]:
    """Each fact joins the first bundle whose lead it cannot be told apart from."""
    bundles: list[list[Moved]] = []
    for one in passed:
        column = by_name[one.name]
        home = next(
            (made for made in bundles if gone_with(column.values, [by_name[made[0].name]])), None
        )
        if home is None:
            bundles.append([one])
        else:
            home.append(one)
    leads = [by_name[made[0].name] for made in bundles]
    return tuple(
        Bundle(
            tuple(made),
            along_words(
                gone_with(by_name[made[0].name].values, leads, but=made[0].name, least=ALONG)
            ),
        )
        for made in bundles
    )


def _when(one: Association, column: Column, numbers: Sequence[int]) -> str:
    if column.is_number:
        share = moved_together(numbers, column.values)
        return time_words(column, None, None) if share and share >= WITH_TIME else ""
    if one.between is None:
        return ""
    told = [(n, v) for n, v in zip(numbers, column.values, strict=True) if v in one.between]
    order = one_after_the_other([n for n, _ in told], [v == one.between[1] for _, v in told])
    return time_words(column, one.between, order) if order else ""


def _moved(result: Result, one: Association, column: Column, numbers: Sequence[int]) -> Moved:
    return Moved(
        name=one.name,
        label=column_label(one.name),
        association=one,
        told=effect_words(result, one, column),
        when=_when(one, column, numbers),
        settings=_setting_keys(one, column),
        is_fact=not is_worked_out(one.name),
    )


def _setting_keys(one: Association, column: Column) -> tuple[str, ...]:
    if one.between is None or column.is_number:
        return ()
    return tuple(fact_text(FACTS[one.name], value) for value in reversed(one.between))
