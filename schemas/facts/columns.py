"""Columns that several fact tables share, and a way to take over another table's columns."""

from collections.abc import Collection
from typing import Any

from schemas.declare import Table, column

CLIMATE_GROUP = (
    "tropical", "arid", "temperate", "continental", "polar", "climate not given",
)  # fmt: skip
DEVICE_AGE_BAND = ("under_1_year", "1_2_years", "3_4_years", "5_years_or_more")
DAYS_SINCE_DRY_BAND = (
    "first_seen", "under_30_days", "30_89_days", "90_179_days", "180_364_days", "365_days_or_more",
)  # fmt: skip
CHANGE = ("better", "worse", "within_noise")
MEASURED_CHANGE = ("improved", "worsened", "mixed", "unchanged")
CHANGE_BASIS = ("specification", "direction_only")
MOISTURE_BASIS = ("corrected", "as_read")
ENDED_BY_REASON = (
    "returned_to_wearer", "sent_for_repair", "replaced", "new_exposure", "gap",
)  # fmt: skip


def taken_from(model: type[Table], *, without: Collection[str] = ()) -> type[Table]:
    """Return a table with another's columns, but none of its rules or its name.

    A fact keeps the words, units and hash domains of the export it comes from without a second
    list of them; values were checked when the export was screened.
    """
    fields = {name: pair for name, pair in model.__fields__.items() if name not in without}
    body: dict[str, Any] = {"__doc__": model.__doc__, "__module__": model.__module__}
    body["__annotations__"] = {n: note.raw_annotation for n, (note, _) in fields.items()}
    for name, (_, field) in fields.items():
        body[name] = column(field.description or "", **(field.metadata or {}))
    return type(f"ColumnsOf{model.__name__}", (Table,), body)
