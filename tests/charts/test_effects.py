import numpy as np
import pytest

from defectlog.charts.effects import middle_cut, shift_between
from tests.charts.test_compare import CONTROL, TREATED

GROUP = np.zeros(16, dtype=np.int64)


def test_by_means_it_is_the_difference_printed_for_the_mice():
    # Efron and Tibshirani 1993, Table 2.1: 30.63.
    own = np.array([True] * 7 + [False] * 9)
    values = np.array([*TREATED, *CONTROL], dtype=float)

    assert shift_between(own, values, GROUP, 0.95, True).value == pytest.approx(30.63, abs=5e-3)


def test_counts_with_many_zeros_have_means_apart_and_a_middle_that_stays():
    own = np.array([True] * 8 + [False] * 8)
    values = np.array([0.0] * 5 + [1, 2, 3] + [0.0] * 8)

    assert shift_between(own, values, GROUP, 0.95, False).value == 0
    assert shift_between(own, values, GROUP, 0.95, True).value == pytest.approx(6 / 8)


def test_with_one_build_of_a_setting_no_means_are_compared():
    own = np.array([True] + [False] * 15)

    assert shift_between(own, np.arange(16.0), GROUP, 0.95, True) is None


def test_numbers_are_cut_as_evenly_as_their_ties_allow():
    assert middle_cut([1, 2, 3, 4]) == 2
    assert middle_cut([5, 5, 5, 5, 5, 9]) == 5
    assert middle_cut([1, 5, 5, 5, 5]) == 1
    with pytest.raises(ValueError, match="no halves"):
        middle_cut([3, 3])
