"""Numbers in, charts' limits and signals out."""

from defectlog.charts.association import Association, Column, Setting, Unjudged, associations
from defectlog.charts.change import (
    ChangePoint,
    Phase,
    change_point,
    individuals_by_phase,
    stretches,
)
from defectlog.charts.chart import (
    ChartInputError,
    ControlChart,
    Signal,
    TooFewValuesError,
)
from defectlog.charts.compare import Comparison, compare
from defectlog.charts.components import WithinShare, within_share
from defectlog.charts.counts import counts
from defectlog.charts.discovery import can_be_found, false_discovery
from defectlog.charts.effects import middle_cut
from defectlog.charts.ewma import ewma
from defectlog.charts.individuals import individuals, moving_range_chart, moving_ranges
from defectlog.charts.intervals import (
    Interval,
    RateRatio,
    exact_share,
    poisson_limits,
    rate_ratio,
    wilson,
)
from defectlog.charts.levels import mean_interval_of
from defectlog.charts.paired import paired_interval
from defectlog.charts.pareto import ParetoBar, pareto
from defectlog.charts.plan import TrialSize, run_order, trial_size
from defectlog.charts.proportions import proportions
from defectlog.charts.rates import probable_rates, rates
from defectlog.charts.rules import WESTERN_ELECTRIC, RunRule, run_signals
from defectlog.charts.skewed import (
    Turn,
    choose_turn,
    ewma_turned,
    individuals_turned,
    steps_turned,
)
from defectlog.charts.slopes import Slope, middle_slope
from defectlog.charts.together import in_turn, moved_together
from defectlog.charts.within import (
    Ratio,
    WithinComparison,
    WithinMeans,
    compare_within,
    means_within,
)

__all__ = [
    "WESTERN_ELECTRIC",
    "Association",
    "ChangePoint",
    "ChartInputError",
    "Column",
    "Comparison",
    "ControlChart",
    "Interval",
    "ParetoBar",
    "Phase",
    "RateRatio",
    "Ratio",
    "RunRule",
    "Setting",
    "Signal",
    "Slope",
    "TooFewValuesError",
    "TrialSize",
    "Turn",
    "Unjudged",
    "WithinComparison",
    "WithinMeans",
    "WithinShare",
    "associations",
    "can_be_found",
    "change_point",
    "choose_turn",
    "compare",
    "compare_within",
    "counts",
    "ewma",
    "ewma_turned",
    "exact_share",
    "false_discovery",
    "in_turn",
    "individuals",
    "individuals_by_phase",
    "individuals_turned",
    "mean_interval_of",
    "means_within",
    "middle_cut",
    "middle_slope",
    "moved_together",
    "moving_range_chart",
    "moving_ranges",
    "paired_interval",
    "pareto",
    "poisson_limits",
    "proportions",
    "rate_ratio",
    "probable_rates",
    "rates",
    "run_order",
    "run_signals",
    "steps_turned",
    "stretches",
    "trial_size",
    "wilson",
    "within_share",
]
