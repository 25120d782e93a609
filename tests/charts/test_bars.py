import pytest

from defectlog.charts import pareto
from defectlog.charts.bars import draw_bars


def test_the_longest_interval_fills_the_line():
    bars = pareto({"void": 81, "dry-spot": 182})

    drawn = draw_bars(bars)

    assert drawn[0].high == 100
    assert drawn[1].length == pytest.approx(100 * (81 / 263) / bars[0].high, abs=0.005)
    assert drawn[1].low < drawn[1].length < drawn[1].high
    assert draw_bars(()) == ()
