import pytest

from defectlog.charts import TooFewValuesError, change_point, individuals, individuals_by_phase

# Annual flow of the Nile at Aswan 1871-1970 in 10^8 m3, G. W. Cobb, Biometrika 65, 1978, Table 1,
# "with apparent changepoint near 1898" (documentation of R's data set Nile).
NILE = [
    *[1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020],
    *[960, 1180, 799, 958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840],
    *[874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702],
    *[1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759],
    *[781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801],
    *[1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923, 975, 815],
    *[1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740],
]


def test_the_nile_fell_after_1898():
    found = change_point(NILE)

    assert 1871 + found.index == 1899
    assert found.mean_before > found.mean_after
    assert found.p_value == 1 / 2001


def test_chance_order_shows_no_change():
    # Alternating values shift at no place; any other order of them looks more like a change.
    assert change_point([1, 2] * 10).p_value > 0.5


def test_four_values_are_the_fewest():
    # Two and two is the only split: 1.5 before, 11.5 after, by hand.
    found = change_point([1, 2, 11, 12])

    assert (found.index, found.mean_before, found.mean_after) == (2, 1.5, 11.5)
    with pytest.raises(TooFewValuesError):
        change_point([1, 2, 3])


HIGH = [2.0, 2.2, 2.1, 2.3, 2.0]
LOW = [0.5, 0.6, 0.4, 0.6, 0.5]


def test_without_a_mark_one_set_of_limits_holds():
    phases = individuals_by_phase(HIGH + LOW)

    assert [(phase.start, phase.stop) for phase in phases] == [(0, 10)]
    assert phases[0].chart == individuals(HIGH + LOW)


def test_a_marked_change_starts_new_limits():
    phases = individuals_by_phase(HIGH + LOW, [5])

    assert [(phase.start, phase.stop) for phase in phases] == [(0, 5), (5, 10)]
    assert phases[0].chart == individuals(HIGH)
    assert phases[1].chart == individuals(LOW)


def test_a_mark_with_too_few_values_on_one_side_moves_no_limits():
    phases = individuals_by_phase(HIGH + LOW[:3], [5])

    assert [(phase.start, phase.stop) for phase in phases] == [(0, 8)]


def test_four_values_make_a_side_but_no_limits():
    before, after = individuals_by_phase(HIGH + LOW[:4], [5])

    assert before.chart == individuals(HIGH)
    assert (after.start, after.stop, after.chart) == (5, 9, None)


def test_missing_builds_do_not_count_towards_enough():
    assert len(individuals_by_phase([*HIGH[:3], None, *LOW], [4])) == 1


def test_the_more_telling_mark_is_served_first():
    # Both marks leave four values on either side alone, but not together.
    phases = individuals_by_phase(HIGH + LOW, [5, 7])
    others = individuals_by_phase([*HIGH, 1.0, 1.0, *LOW], [7, 5])

    assert [phase.start for phase in phases] == [0, 5]
    assert [phase.start for phase in others] == [0, 7]


def test_few_values_are_plotted_without_limits():
    phases = individuals_by_phase([1.0, 2.0, 3.0])

    assert [(phase.start, phase.stop, phase.chart) for phase in phases] == [(0, 3, None)]
    assert individuals_by_phase([]) == ()


def test_a_floor_reaches_every_phase():
    jumpy = [0.0, 2.0, 0.0, 2.0, 0.0]

    phases = individuals_by_phase(jumpy + jumpy, [5], lowest=0)

    assert [phase.chart.lower for phase in phases] == [0, 0]
