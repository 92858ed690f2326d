"""The attention list in the shared edition hides what the tables behind it hide."""

import polars as pl

from pipeline.disclosure.attention import items

FRAME = pl.DataFrame(
    [
        ("quality", "site-01", "zinc_air_cell_left_in", 4, 300),
        ("quality", "site-01", "weeks_without_data", 2, 13),
        ("rows_refused", "site-01", None, 3, 900),
        ("site_outcome", "site-01", "dead_sounds_again", 20, 60),
        ("site_outcome", "site-02", "dead_sounds_again", 4, 30),
        ("routine_drying", None, None, None, None),
        ("stopped_aid", "site-01", None, 11, 400),
        ("stopped_aid", "site-02", None, 10, 400),
        ("stopped_aid", "site-03", None, 390, 400),
        ("stopped_aid", None, None, 11, 11),
    ],
    schema=["item_kind", "site_id", "subject", "count", "out_of"], orient="row",
)  # fmt: skip
COMPARED = pl.DataFrame({
    "site_id": ["site-01", "site-02"], "outcome": ["dead_sounds_again"] * 2,
    "observed": [20, None], "n": [60, None], "verdict": ["lower_than_expected", None],
})  # fmt: skip


def shown(verdict: str | None, cell: int = 11) -> dict[tuple, tuple]:
    tables = {
        "site_comparison": COMPARED,
        "routine_drying_verdict": pl.DataFrame(
            {"verdict": [verdict]}, schema={"verdict": pl.String}
        ),
    }
    found = items(FRAME, tables, cell)
    assert found.columns == FRAME.columns
    return {row[:3]: row[3:] for row in found.rows()}


def test_counts_of_aids_go_and_counts_of_records_stay():
    found = shown("may_harm")
    assert found["quality", "site-01", "zinc_air_cell_left_in"] == (None, None)
    assert found["quality", "site-01", "weeks_without_data"] == (2, 13)
    assert found["rows_refused", "site-01", None] == (3, 900)


def test_a_hidden_verdict_takes_its_item_along():
    found = shown("may_harm")
    assert found["site_outcome", "site-01", "dead_sounds_again"] == (20, 60)
    assert ("site_outcome", "site-02", "dead_sounds_again") not in found
    assert ("routine_drying", None, None) in found
    assert ("routine_drying", None, None) not in shown(None)


def test_a_verdict_on_few_stopped_aids_goes_and_its_numbers_always():
    found = {key[1]: told for key, told in shown("may_harm").items() if key[0] == "stopped_aid"}
    assert found == {"site-01": (None, None), None: (None, None)}


def test_a_cell_of_one_hides_nothing():
    assert items(FRAME, {}, 1).equals(FRAME)
