"""Quantiles by leading bits, held against NumPy's own."""

import numpy as np
import pytest

from defectlog.measure.arrays.quantiles import quantiles_of

SHARES = (0.0, 0.1, 0.5, 0.8, 0.997, 1.0)


@pytest.mark.parametrize("count", [1, 2, 3, 10, 1001, 70_000])
@pytest.mark.parametrize("scale", [1e-6, 0.1, 1.0, 5e4])
def test_quantiles_are_those_of_numpy(count, scale):
    values = np.abs(np.random.default_rng(count).normal(size=count) * scale).astype(np.float32)
    values[::7] = values[0]  # many of them the same
    told = quantiles_of(values, *SHARES)
    assert told == pytest.approx(np.quantile(values, SHARES), rel=1e-6)


def test_numbers_may_lie_apart_and_be_none():
    values = np.array([0.0, 9.0, 0.0, 9.0, 2.0, 9.0], np.float32)[::2]  # 0, 0, 2
    assert quantiles_of(values, 0.5, 0.75, 1.0) == (0.0, 1.0, 2.0)
