from defectlog.charts import individuals, run_signals

# Western Electric rules as NIST/SEMATECH e-Handbook 6.3.2 gives them, on series made so that
# centre 0 and sigma 1 are known.


def found(values, sigma=1.0):
    return [(signal.index, signal.rule) for signal in run_signals(values, 0.0, sigma)]


def test_two_of_three_beyond_two_sigma_on_one_side():
    assert found([2.1, 0.0, 2.1]) == [(2, "two-of-three")]
    assert found([-2.1, -2.1]) == [(1, "two-of-three")]


def test_two_of_three_on_different_sides_is_nothing():
    assert found([2.1, 0.0, -2.1]) == []


def test_the_point_that_completes_the_pattern_is_itself_beyond():
    assert found([2.1, 2.1, 0.0]) == [(1, "two-of-three")]


def test_four_of_five_beyond_one_sigma():
    assert found([1.1, 1.1, -0.5, 1.1, 1.1]) == [(4, "four-of-five")]
    assert found([1.1, 1.1, -0.5, -0.5, 1.1, 1.1]) == []


def test_eight_in_a_row_and_not_seven():
    assert found([0.1] * 7) == []
    assert found([-0.1] * 8) == [(7, "eight-in-a-row")]
    assert found([0.1] * 9) == [(7, "eight-in-a-row"), (8, "eight-in-a-row")]


def test_a_point_on_the_line_is_beyond_neither_side():
    assert found([0.1] * 4 + [0.0] + [0.1] * 4) == []
    assert found([2.0, 2.0]) == []


def test_a_missing_build_ends_a_run():
    assert found([0.1] * 4 + [None] + [0.1] * 4) == []


def test_words_name_the_side():
    assert run_signals([-0.1] * 8, 0.0, 1.0)[0].words.endswith("below the centre line")


def test_sigma_may_differ_from_point_to_point():
    assert found([2.1, 2.1], sigma=(1.0, 2.0)) == []


def test_nists_flow_rates_break_no_run_rule():
    # 6.3.2.2: only the last five lie on one side of 50.81, and of those only 52.6 and 53.6 are
    # above 50.81 + 1.665.
    values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]

    assert individuals(values, run_rules=True).signals == ()
