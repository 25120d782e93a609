from defectlog.charts.ticks import nice_ticks


def test_ticks_are_round_and_reach_past_both_ends():
    assert nice_ticks(0, 0.026) == (0, 0.01, 0.02, 0.03)
    assert nice_ticks(0, 4.2) == (0, 1, 2, 3, 4, 5)
    assert nice_ticks(0, 6) == (0, 2, 4, 6)
    assert nice_ticks(-3, 3) == (-4, -2, 0, 2, 4)
    assert nice_ticks(0, 0) == (0, 0.2, 0.4, 0.6, 0.8, 1)
