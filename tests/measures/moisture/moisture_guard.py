"""What no table of moisture may hold: a centile missing without a reason, a limit of nothing."""

import polars as pl

from reports.states import QUANTILES
from schemas.measure_words import NUMBER_STATE as STATES

SHARES = {"p10": 0.1, "p25": 0.25, "median": 0.5, "p75": 0.75, "p90": 0.9}
CENTILE = "moisture_per_aid"
LARGE, MARGIN = 200, 0.05


def unexplained(frame: pl.DataFrame) -> pl.DataFrame:
    """Return rows of moisture_distribution with a quantile that is missing without its reason.

    Of 200 loads or more, a quantile five points or more over the share below detection has a
    value, or lies between two bounds that are told, or is hidden, or has under ten wearers; below
    detection it cannot be. Every quantile has a value exactly where its state says so.
    """
    assert set(SHARES) == set(QUANTILES)
    return frame.filter(
        pl.any_horizontal(
            _wrong(name, f"{name}_ul")
            | (
                (pl.col("n") >= LARGE)
                & (pl.col("share_below_detection") <= share - MARGIN)
                & ~_is_told(name, f"{name}_ul")
            )
            for name, share in SHARES.items()
        )
    )


def unexplained_centiles(frame: pl.DataFrame) -> pl.DataFrame:
    """Return rows of moisture_centile that are missing without their reason, as `unexplained`."""
    below = pl.col("below_detection") / pl.col("n")
    return frame.filter(
        _wrong(CENTILE, f"{CENTILE}_ul")
        | (pl.col(f"{CENTILE}_ul").is_null() & pl.col("withheld").is_null()
           & (pl.col(f"{CENTILE}_state") != "hidden"))
        | (
            (pl.col("n") >= LARGE)
            & (below <= pl.col("centile") / 100 - MARGIN)
            & ~_is_told(CENTILE, f"{CENTILE}_ul")
        )
    )  # fmt: skip


def _is_told(name: str, value: str) -> pl.Expr:
    state = pl.col(f"{name}_state")
    bounds = [pl.col(f"{name}_bound_{side}_ul") for side in ("low", "high")]
    is_between = (state == "not_estimable") & (bounds[0] > 0) & bounds[1].is_not_null()
    few = (state == "not_estimable") & (pl.col("wearers") < 10)
    return pl.col(value).is_not_null() | is_between | few | (state == "hidden")


def _wrong(name: str, value: str) -> pl.Expr:
    state, high = pl.col(f"{name}_state"), pl.col(f"{name}_bound_high_ul")
    return (
        ~state.is_in(list(STATES))
        | (pl.col(value).is_not_null() != (state == "value"))
        | ((state == "below_limit") & (pl.col(f"{name}_bound_low_ul") > 0))
        | (high <= 0).fill_null(value=False)
    )  # fmt: skip
