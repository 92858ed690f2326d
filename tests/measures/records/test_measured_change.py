"""The change of each aid against noise, kept on its row."""

from math import log, sqrt

import pytest

from tests.measures.small_warehouse import insert, run, warehouse

COUPLER = {
    "hfa_gain_before_db": 40.0, "hfa_gain_after_db": 40.0, "hfa_ospl90_before_db_spl": 110.0,
    "hfa_ospl90_after_db_spl": 110.0, "thd_before_pct": 2.0, "thd_after_pct": 2.0,
    "measured_settings": "full_on",
}  # fmt: skip
# Default deviation 1 dB (0.25 of ln %), Šidák: 2.388·√2 for three measures, 2.236·√2 for two.
NEEDED, OF_TWO = 2.388 * sqrt(2), 2.236 * sqrt(2)
MODEL = {"model_code": "m", "hfa_gain_spec_db": 40.0, "hfa_ospl90_spec_db_spl": 110.0}


def classes(treatment: str = "dried", **more) -> dict:
    """The change columns of one working aid."""
    con = warehouse()
    insert(con, "session_aid", [{
        "site_id": "site-01", "file_id": "f", "line": 1, "part_of_line": 0, "treatment": treatment,
        "is_outside_rates": False, "condition_before_drying": "normal",
        "condition_after": "normal", "is_first_cycle": True, "cycle_number": 1,
        "is_order_recorded": True, "wearer_key": "w", **(COUPLER | more),
    }])  # fmt: skip
    insert(con, "device_model", [MODEL])
    run(con, wanted="measurement_repeatability")
    names = ("hfa_gain_change", "hfa_ospl90_change", "thd_change", "measured_change",
             "is_any_positive_change", "change_basis")  # fmt: skip
    (row,) = con.sql(f"SELECT {', '.join(names)} FROM session_aid").fetchall()
    return dict(zip(names, row, strict=True))


@pytest.mark.parametrize("treatment", ["dried", "cleaned_only"])
@pytest.mark.parametrize(
    ("more", "gain", "together"),
    [
        ({"hfa_gain_after_db": 40 + NEEDED + 0.05}, "better", "improved"),
        ({"hfa_gain_after_db": 40 + NEEDED - 0.05}, "within_noise", "unchanged"),
        ({"hfa_gain_after_db": 40 - NEEDED - 0.05}, "worse", "worsened"),
        ({"hfa_gain_after_db": 40 + OF_TWO + 0.05, "thd_after_pct": None}, "better", "improved"),
        ({"hfa_gain_after_db": 45.0, "hfa_ospl90_after_db_spl": 105.0}, "better", "mixed"),
    ],
)
def test_each_measure_is_set_against_the_needed_change(treatment, more, gain, together):
    found = classes(treatment, **more)
    assert (found["hfa_gain_change"], found["measured_change"]) == (gain, together)
    assert found["change_basis"] == "direction_only"


def test_a_change_that_stands_is_made_anew_where_the_needed_change_is_another():
    con = warehouse()
    rows = [("better", 1, 40 + NEEDED + 0.05), ("null", 2, 40.0), ("same", 3, 40 - NEEDED - 0.05)]
    insert(con, "session_aid", [{
        "site_id": "site-01", "file_id": "f", "line": line, "part_of_line": 0,
        "treatment": "dried", "is_outside_rates": False, "condition_before_drying": "normal",
        "condition_after": "normal", "is_first_cycle": True, "cycle_number": 1,
        "is_order_recorded": True, "wearer_key": name, **(COUPLER | {"hfa_gain_after_db": gain}),
    } for name, line, gain in rows])  # fmt: skip
    insert(con, "device_model", [MODEL])
    asked = "SELECT line, hfa_gain_change, measured_change FROM session_aid ORDER BY line"
    run(con, wanted="measurement_repeatability")
    first = con.sql(asked).fetchall()
    assert first == [(1, "better", "improved"), (2, "within_noise", "unchanged"),
                     (3, "worse", "worsened")]  # fmt: skip
    con.execute(
        "UPDATE session_aid SET hfa_gain_change = 'worse', measured_change = 'worsened' WHERE"
        " line = 1; UPDATE session_aid SET hfa_gain_change = NULL, hfa_ospl90_change = NULL,"
        " thd_change = NULL, measured_change = NULL WHERE line = 2"
    )
    run(con, wanted="measurement_repeatability")
    assert con.sql(asked).fetchall() == first


def test_distortion_is_compared_on_the_log_scale():
    step = NEEDED * 0.25
    assert classes(thd_after_pct=2.0 * 2.718281828 ** -(step + 0.01))["thd_change"] == "better"
    assert classes(thd_after_pct=2.0 * 2.718281828 ** -(step - 0.01))["thd_change"] == (
        "within_noise"
    )
    assert log(2.0) < step  # halving the distortion alone is within noise


@pytest.mark.parametrize(
    ("before", "after", "change"),
    [
        (34.0, 40.0, "better"),  # a deficit of 6 dB is gone
        (41.0, 44.9, "within_noise"),  # over the specification, within its tolerance of 5 dB
        (41.0, 45.1, "worse"),  # beyond specification and tolerance, by more than noise
        (44.0, 40.0, "within_noise"),  # no deficit before or after
    ],
)
def test_with_a_specification_the_deficit_counts(before, after, change):
    given = {"model_code": "m", "hfa_gain_before_db": before, "hfa_gain_after_db": after}
    found = classes(**given)
    assert (found["hfa_gain_change"], found["change_basis"]) == (change, "specification")
    worn = classes(**given, measured_settings="as_worn")
    assert worn["change_basis"] == "direction_only"


def test_gain_alone_is_not_assessed_and_a_tiny_gain_is_any_positive_change():
    alone = classes(hfa_gain_after_db=60.0, hfa_ospl90_after_db_spl=None, thd_after_pct=None)
    assert (alone["measured_change"], alone["hfa_gain_change"]) == (None, None)
    tiny = classes(hfa_gain_after_db=40.1)
    assert (tiny["measured_change"], tiny["is_any_positive_change"]) == ("unchanged", True)
    assert classes()["is_any_positive_change"] is False
