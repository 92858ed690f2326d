"""What a batch says of each file, and what of a row may be told."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.screening import shown
from schemas.exports.catalogue import EXPORTS, columns_of
from tests.intake.mapped_text import screened

MOISTURE = next(s for s in columns_of(EXPORTS["sessions"]) if s.name == "moisture_ul")
HEAD = "started_at,device_style,condition_before,moisture_ul\n"
GOOD = "2026-03-10T09:30,ric,dead,4.25\n"


@pytest.mark.parametrize(("row", "refused"), [(GOOD, 0), (GOOD.replace("4.25", "wet"), 1)])
def test_values_refused_are_counted_by_file(tmp_path: Path, row: str, refused: int) -> None:
    result, out = screened(tmp_path, "", HEAD + GOOD + row.replace("09", "10"))
    assert (result.accepted, result.quarantined, result.values_refused) == (2, 0, refused)
    assert out is not None and out.refused.height == refused


def test_a_rule_of_a_whole_row_shows_no_cell_of_it() -> None:
    text = pl.DataFrame({"moisture_ul": ["wet", "damp"]})
    typed = pl.DataFrame({"moisture_ul": [None, None]}, schema={"moisture_ul": pl.Float64})
    failures = pl.DataFrame({
        shown.ROW: [0, 1], "column_name": [None, "moisture_ul"], "is_value_sound": [False, False],
    })  # fmt: skip
    told = shown.found(text, typed, failures, [MOISTURE])
    assert told.to_list() == [None, "text, 4 characters"]
