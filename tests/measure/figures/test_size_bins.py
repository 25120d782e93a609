"""Sizes counted between preferred numbers."""

import numpy as np
import pytest

from defectlog.measure.figures.size_bins import size_bins


def test_edges_are_the_preferred_numbers():
    # ISO 3:1973, series R 5: 1.00 1.60 2.50 4.00 6.30 10.0.
    edges = [one.low for one in size_bins([0.16, 12.0])]

    assert edges == pytest.approx([0.16, 0.25, 0.4, 0.63, 1.0, 1.6, 2.5, 4.0, 6.3, 10.0])


def test_a_size_on_an_edge_is_in_the_upper_bin_and_empty_bins_between_are_kept():
    found = size_bins([0.4, 0.399, 1.0, 1.5, 1.6])

    counts = [(round(one.low, 6), round(one.high, 6), one.count) for one in found]
    assert counts == [(0.25, 0.4, 1), (0.4, 0.63, 1), (0.63, 1.0, 0), (1.0, 1.6, 2), (1.6, 2.5, 1)]


def test_each_size_is_in_one_bin_and_within_it():
    sizes = np.exp(np.random.default_rng(3).normal(0, 2, 500)).tolist()

    found = size_bins(sizes)

    assert sum(one.count for one in found) == 500
    assert all(a.high == pytest.approx(b.low) for a, b in zip(found, found[1:], strict=False))
    for one in found:
        assert one.count == sum(one.low <= size < one.high for size in sizes)


def test_without_sizes_there_are_no_bins():
    assert size_bins([]) == ()
    with pytest.raises(ValueError, match="above 0"):
        size_bins([1.0, 0.0])
