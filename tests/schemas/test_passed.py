"""A column of an export reaches the warehouse by its class alone."""

import pytest

from pipeline.warehouse.build import COUNTED, DERIVED, LOADED
from pipeline.warehouse.passed import passed
from schemas.declare import Table, column
from schemas.exports.catalogue import EXPORTS, REFERENCE, columns_of, moment_of
from schemas.facts.catalogue import FACTS
from schemas.facts.columns import of_load, rows_of, shared, taken_from

FACT_OF = dict(LOADED) | {"sessions": "session_aid", "chamber_runs": "chamber_run"}


class Made(Table):
    """One row per made thing.

    Key: site_id, made_at.
    """

    site_id: str = column("The clinic.", required=True)
    made_at: str = column("Moment, local.", required=True)
    width_mm: float = column("Width.", unit="mm", resolution=0.1, ge=0)

    class Config(Table.Config):
        """The table's name and key."""

        name = "made"
        metadata = {"key": ("site_id", "made_at"), "moment": "made_at"}  # noqa: RUF012


@pytest.mark.parametrize("table", sorted(EXPORTS | REFERENCE))
def test_every_column_of_an_export_stands_in_its_fact_with_its_unit(table: str) -> None:
    model = (EXPORTS | REFERENCE)[table]
    if FACT_OF[table] is None:
        return
    held = {spec.name: spec for spec in columns_of(FACTS[FACT_OF[table]])}
    for spec in columns_of(model):
        name = f"{spec.name}_utc" if spec.name == moment_of(model) else spec.name
        assert (held[name].unit, held[name].dtype) == (spec.unit, spec.dtype)
        assert (held[name].hashed, held[name].vocabulary) == (spec.hashed, spec.vocabulary)
    assert {"file_id", "line", "part_of_line"} <= held.keys()


def test_columns_of_a_load_stand_in_the_session() -> None:
    held = {spec.name for spec in columns_of(FACTS["session"])}
    assert set(of_load()) <= held
    assert {"cycle_minutes", "moisture_ul", "ended_by"} <= set(of_load())


def test_a_fact_takes_over_words_units_and_the_instant() -> None:
    taken = {spec.name: spec for spec in columns_of(rows_of(Made, moment="Moment."))}
    assert list(taken) == [
        "site_id", "made_at_utc", "local_date", "time_precision", "width_mm",
        "file_id", "line", "part_of_line",
    ]  # fmt: skip
    assert (taken["width_mm"].unit, taken["width_mm"].ge) == ("mm", 0)
    assert taken["made_at_utc"].description == "Moment."
    assert [s.name for s in columns_of(taken_from(Made, {"width_mm"}))] == ["width_mm"]
    assert shared(Made, Made) == ["width_mm"]


def test_hand_written_queries_name_no_column_that_only_passes() -> None:
    for name in (*DERIVED, *COUNTED[:2], "session_reading", "session_joined"):
        assert "{" not in passed(name), name
    for name in ("cycle_programme", "chamber_temp_max_c", "ended_by"):
        assert f"min({name})" in passed("session_reading")
        assert f"coalesce(u.{name}, p.{name})" in passed("session_joined")
        assert f"'{name}'" in passed("session_conflict")
        assert f"'{name}'" in passed("run_conflict")
    assert "round(p.moisture_ul, 2)::VARCHAR" in passed("run_conflict")
    assert "coalesce(p.power_source, d.power_source)" in passed("session_aid")
