"""The state of a number that can be missing: what a mark, a legend and a sentence read."""

from typing import Any

from schemas.declare import column
from schemas.measure_words import NUMBER_STATE


def state(what: str) -> Any:
    """Declare the column that says why a number is there or is not."""
    return column(
        f"{what}: a value; below the limit of detection; not estimable, between its bounds or with"
        " too few wearers; hidden as a small count; or not recorded.",
        vocabulary=NUMBER_STATE, required=True,
    )  # fmt: skip


def bound(what: str, side: str) -> Any:
    """Declare the lower or upper bound that stands where a quantile has no value."""
    at = "every load below its limit at 0" if side == "lower" else "each of them at its own limit"
    end = "" if side == "lower" else "; null where that is 0"
    return column(
        f"Where the {what} has no value: it with {at}, whatever the loads held; null under 10"
        f" wearers{end}.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
