"""Hold a finding against what its part may have of that kind."""

from dataclasses import dataclass

from defectlog.bench.sizes import finding_size
from defectlog.records import Finding, Limit, Measurement
from defectlog.units import NBSP, figure, measured_percent, percent_range, with_unit

# These come as many small voids: their size is that of the voids that were counted, not of
# the outline drawn round them.
COUNTED_KINDS = frozenset({"pinholes-tool", "pinholes-bag"})
NEAR = 0.9  # from this share of a limit on, a value is said to be near it


@dataclass(frozen=True, slots=True)
class Verdict:
    """A finding's size in words, and how it stands: within, near, over, or nothing."""

    words: str
    standing: str = ""


def judge(value: float, limit: float, uncertainty_pct: float | None = None) -> str:
    """How a value stands to a limit that it may reach but not pass.

    Only ``over`` rejects. ``near`` is said from nine tenths of the limit on, and also when the
    value's interval reaches over the limit while the value does not, or the other way round:
    then neither can be claimed.
    """
    spread = value * (uncertainty_pct or 0) / 100
    if value - spread > limit:
        return "over"
    if value + spread > limit or (limit > 0 and value >= NEAR * limit):
        return "near"
    return "within"


def limit_of(finding: Finding) -> Limit | None:
    """The limit of the finding's part for its kind."""
    return next((x for x in finding.build.part.limits if x.kind == finding.kind), None)


def verdict(finding: Finding) -> Verdict:
    """A finding's size against the part's limit, in words: ``0.9 mm, limit 0.8 mm: over``."""
    limit = limit_of(finding)
    if finding.kind in COUNTED_KINDS:
        measured = measurement_of(finding)
        if measured is not None:
            return _counted(measured, limit)
    size = finding_size(finding)
    if limit is None or limit.largest_mm is None or size.longest_mm is None:
        return Verdict(size.words)
    if limit.largest_mm == 0:
        return Verdict(f"{size.words}, none is allowed: over", "over")
    standing = judge(size.longest_mm, limit.largest_mm, size.uncertainty_pct)
    return Verdict(f"{size.words}, limit {with_unit(limit.largest_mm, 'mm')}: {standing}", standing)


def measurement_of(finding: Finding) -> Measurement | None:
    """The newest measurement on any photo the finding is marked on."""
    made = [m.photo.measurement for m in finding.marks if m.photo.measurement is not None]
    return max(made, key=lambda m: m.id, default=None)


def _counted(measured: Measurement, limit: Limit | None) -> Verdict:
    held: list[tuple[float | None, float | None, str, float]] = [
        (measured.largest_mm, limit and limit.largest_mm, "mm", 1),
        (measured.density_per_cm2, limit and limit.per_dm2, "per dm²", 100),
        (measured.void_fraction, limit and limit.area_fraction, "%", 100),
    ]
    words, standings = [], []
    for value, bound, unit, factor in held:
        if value is None:
            continue
        shown = with_unit(value * factor, unit, 2)
        if unit == "mm":
            shown = f"largest {shown}"
        if unit == "%":
            ends = percent_range(measured.void_fraction_low, measured.void_fraction_high)
            shown = f"void fraction {measured_percent(value)} ({ends})"
        if bound is None:
            words.append(shown)
            continue
        # Densities are kept per cm² and limited per dm²; fractions are shown in per cent.
        limit_shown = bound * (100 if unit == "%" else 1)
        compared = value * (factor if unit == "per dm²" else 1)
        pct = None
        if unit == "%" and value > 0:
            pct = 100 * (measured.void_fraction_high - value) / value
        standing = judge(compared, bound, pct)
        standings.append(standing)
        words.append(f"{shown}, limit {figure(limit_shown)}{NBSP}{unit}: {standing}")
    worst = next((s for s in ("over", "near", "within") if s in standings), "")
    return Verdict("; ".join(words), worst)
