"""The numbers of a comparison to take along: every build, and the figures of every result."""

from defectlog.bench.comparison import Compared
from defectlog.bench.comparison_words import chance_words, ratio_words
from defectlog.bench.goes_with_words import change_ends
from defectlog.bench.results import Result


def comparison_table(compared: Compared) -> list[list[object]]:
    """Every build behind the pictures, a heading row first; fractions are 0–1."""
    rows: list[list[object]] = [
        ["result", "unit", "setting", "part", "build", "value", "spread", "low", "high"]
    ]
    if compared.pair is None:
        return rows
    for side in compared.sides:
        for setting, builds in zip(compared.pair.choices, side.builds, strict=True):
            for one in builds:
                rows.append(
                    [
                        side.made.title,
                        _unit(side.result),
                        setting.words,
                        one.part,
                        one.number,
                        one.value,
                        one.made.spread,
                        one.made.low,
                        one.made.high,
                    ]
                )
    return rows


def figure_table(compared: Compared) -> list[list[object]]:
    """The figures behind the sentences, a heading row first, one row for each result."""
    heading = (
        "result unit builds_first builds_second mean_first mean_second difference low high "
        "ratio ratio_low ratio_high p splits method"
    )
    rows: list[list[object]] = [list(heading.split())]
    for side in compared.sides:
        row: list[object] = [side.made.title, _unit(side.result), *map(len, side.builds)]
        if side.found:
            means = side.found.means
            ratio = means.ratio
            row += [means.mean_a, means.mean_b, means.difference, means.low, means.high]
            row += [ratio.value, ratio.low, ratio.high] if ratio else [None] * 3
            row += [side.found.p_value, side.found.splits, side.found.method]
        rows.append(row)
    return rows


def _unit(result: Result) -> str:
    return "fraction" if result.factor != 1 else result.unit


def figure_rows(compared: Compared) -> list[tuple[str, ...]]:
    """The same for the page, every figure with its unit; a dash where there is none."""
    rows = []
    for side in compared.sides:
        result, found = side.result, side.found
        row = [result.title, " and ".join(str(len(builds)) for builds in side.builds)]
        if found is None:
            rows.append((*row, *["–"] * 5))
            continue
        means = found.means
        rows.append(
            (
                *row,
                f"{result.write(means.mean_a)} and {result.write(means.mean_b)}",
                result.write_change(means.difference),
                change_ends(result, means.low, means.high),
                ratio_words(means.ratio) or "–",
                chance_words(found).replace("less than ", "< "),
            )
        )
    return rows
