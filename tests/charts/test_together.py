import numpy as np
import pytest
from scipy.stats import spearmanr

from defectlog.charts import in_turn, moved_together


def test_of_two_numbers_it_is_spearmans():
    random = np.random.default_rng(2)
    x, y = random.random(30).tolist(), random.random(30).tolist()

    assert moved_together(x, y) == pytest.approx(abs(spearmanr(x, y).statistic))


def test_of_yes_and_no_it_is_phi():
    # By hand: 4 both, 1 only the first, 2 only the second, 5 neither:
    # (4 * 5 - 1 * 2) / sqrt(5 * 7 * 6 * 6) = 18 / 35.496.
    first = [True] * 4 + [True] + [False] * 2 + [False] * 5
    second = [True] * 4 + [False] + [True] * 2 + [False] * 5

    assert moved_together(first, second) == pytest.approx(18 / 1260**0.5)


def test_a_setting_that_follows_from_another_cannot_be_told_from_it():
    process = ["infusion"] * 4 + ["bagged"] * 4 + ["open"] * 4
    media = ["yes"] * 4 + ["no"] * 8

    assert moved_together(process, media) == pytest.approx(1)


def test_where_too_few_know_both_or_one_never_moved_nothing_is_said():
    assert moved_together([1, 2, 3, None, None, 6, 7, 8], [1, 2, 3, 4, 5, None, None, 8]) is None
    assert moved_together(["a"] * 8, [1, 2, 3, 4, 5, 6, 7, 8]) is None


def test_settings_in_turn():
    assert in_turn([1, 2, 3, 4], [False, False, True, True]) == 1
    assert in_turn([1, 2, 3, 4], [True, True, False, False]) == -1
    # By hand: 1 after none, 4 after both: 2 pairs after, 2 before.
    assert in_turn([1, 2, 3, 4], [True, False, False, True]) == 0
    with pytest.raises(ValueError, match="need a build"):
        in_turn([1, 2], [True, True])
