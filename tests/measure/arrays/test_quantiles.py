"""Medians and quantiles, held against NumPy's own."""

import numpy as np
import pytest

from defectlog.measure.arrays.quantiles import counted, middle_of, middle_of_steps, quantiles_of

SHARES = (0.0, 0.1, 0.5, 0.8, 0.997, 1.0)


@pytest.mark.parametrize("count", [1, 2, 3, 500, 501, 20_000, 20_001])
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_the_middle_of_numbers_is_numpys_to_the_bit(count, kind):
    values = np.random.default_rng(count).standard_normal(count).astype(kind)

    assert middle_of(values) == np.median(values)


@pytest.mark.parametrize("count", [1, 2, 7, 8, 20_000])
def test_the_middle_of_steps_is_numpys_to_the_bit(count):
    values = np.random.default_rng(count).integers(0, 5000, count).astype(np.uint16)

    assert middle_of_steps(values) == np.median(values)


@pytest.mark.parametrize("rows", [3, 300])
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_whole_numbers_are_counted_one_by_one(rows, kind):
    values = np.random.default_rng(rows).integers(0, np.iinfo(kind).max + 1, (rows, 200))
    some = values.astype(kind)[::2, ::2]  # as of a picture of which some pixels are looked at

    often = counted(some)

    numbers, times = np.unique(some, return_counts=True)
    assert np.array_equal(np.flatnonzero(often), numbers)
    assert np.array_equal(often[numbers], times)


@pytest.mark.parametrize("count", [1, 2, 3, 10, 1001, 70_000])
@pytest.mark.parametrize("scale", [1e-6, 1.0, 5e4])
def test_quantiles_are_those_of_numpy(count, scale):
    values = (np.random.default_rng(count).normal(size=count) * scale).astype(np.float32)
    values[::7] = values[0]  # many of them the same

    told = quantiles_of(values, *SHARES)

    assert told == pytest.approx(np.quantile(values, SHARES), rel=1e-5, abs=1e-9 * scale)


@pytest.mark.parametrize("apart", [7, 49, 98])
def test_numbers_that_repeat_mislead_no_sample(apart):
    # Every so many the numbers are far larger than the others are, as a weave may have it.
    values = np.random.default_rng(apart).standard_normal(100_000).astype(np.float32)
    values[::apart] += 50

    assert middle_of(values) == np.median(values)
    assert quantiles_of(values, *SHARES) == pytest.approx(np.quantile(values, SHARES), rel=1e-5)


def test_numbers_may_lie_apart_and_be_none():
    values = np.array([0.0, 9.0, -0.0, 9.0, 2.0, 9.0], np.float32)[::2]

    # In order 0, 0, 2: three quarters of the way is halfway from the second to the third.
    assert quantiles_of(values, 0.5, 0.75, 1.0) == [0.0, 1.0, 2.0]
