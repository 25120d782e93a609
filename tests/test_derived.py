"""The classes people speak in, derived from measured facts."""

import pytest

from defectlog.derived import derive, dew_margin_c, dew_point_c, leak_rate_mbar_min


@pytest.mark.parametrize(
    ("air", "humidity", "dew"),
    # Dew-point tables as used with ISO 8502-4; values from memory.
    [(20, 50, 9.3), (25, 60, 16.7), (20, 100, 20.0)],
)
def test_dew_point_is_that_of_the_tables(air: float, humidity: float, dew: float) -> None:
    assert dew_point_c(air, humidity) == pytest.approx(dew, abs=0.1)


def test_the_margin_counts_from_the_mould_if_that_was_measured() -> None:
    air = {"ambient_c": 20, "humidity_pct": 50}
    cold_mould = air | {"mould_temp_c": 11}
    assert dew_margin_c(air) == pytest.approx(20 - dew_point_c(20, 50))
    assert dew_margin_c(cold_mould) == pytest.approx(11 - dew_point_c(20, 50))
    assert derive(air)["dew_class"] == "ok"
    assert derive(cold_mould)["dew_class"] == "close"


def test_leak_rate_is_rise_over_time() -> None:
    # By hand: 14 - 11 = 3 mbar in 20 min.
    known = {"drop_start_mbar": 11, "drop_end_mbar": 14, "drop_minutes": 20}
    assert leak_rate_mbar_min(known) == pytest.approx(0.15)
    assert derive(known)["drop_class"] == "tight"


def test_an_unfinished_drop_test_says_nothing() -> None:
    assert "drop_class" not in derive({"drop_start_mbar": 11, "drop_minutes": 20})


def test_a_bagged_wet_layup_is_allowed_three_times_the_leak() -> None:
    leaky = {"drop_start_mbar": 10, "drop_end_mbar": 60, "drop_minutes": 10}
    assert derive(leaky | {"process": "infusion"})["drop_class"] == "marginal"
    assert derive(leaky | {"process": "bagged-wet-layup"})["drop_class"] == "ok"


@pytest.mark.parametrize(
    ("angle", "word"), [(180, "fold"), (150, "fold"), (90, "mid"), (60, "mid"), (59, "low")]
)
def test_the_fold_back_angle_becomes_a_way_of_pulling(angle: float, word: str) -> None:
    assert derive({"peel_fold_back_deg": angle})["fold_class"] == word


def test_a_known_fact_that_is_none_is_an_unknown_fact() -> None:
    assert derive({"degassed": None, "postcure_h": 0}) == {"postcure_h": 0, "postcure_class": "no"}


def test_the_mix_is_off_when_the_ratio_is_however_well_it_was_logged() -> None:
    assert derive({"mix_logged": True})["mix_class"] == "logged"
    assert derive({"mix_logged": True, "mix_ratio_error_pct": -8})["mix_class"] == "off"
