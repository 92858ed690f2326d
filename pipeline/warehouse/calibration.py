"""Judge every chamber on every day of a dose check or service, for the readings of that day."""

import duckdb
import numpy as np
import polars as pl

from pipeline.statistics import chamber_verdict, dose_errors, dosed_line
from pipeline.statistics.intervals import Floats
from pipeline.statistics.retest import NEVER, QUIET, retests
from pipeline.warehouse.connect import columns, insert, sql
from schemas.facts.calibration_line import CalibrationLine

SITES = "SELECT DISTINCT site_id FROM {table} WHERE in_scope(site_id)"
# So many sites at a time: the checks of all windows of all of them are held at once.
BATCH = 40
DIGITS = 6
CHAMBER = ("site_id", "dryer_id", "served_on")
# While a retest is open, a reading keeps what was known before the bad dose.
KEPT = (
    "intercept_ul", "slope", "intercept_se_ul", "slope_se", "intercept_slope_correlation",
    "lowest_dose_ul", "highest_dose_ul", "corrected_error_rms_tolerances", "is_applied", "standing",
)  # fmt: skip


def fit_lines(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill calibration_line for the sites in scope from their dose checks."""
    query = " UNION ".join(SITES.format(table=name) for name in ("dose_check", "dryer_event"))
    sites = [site for (site,) in connection.execute(f"{query} ORDER BY 1").fetchall()]
    for at in range(0, len(sites), BATCH):
        _fit_sites(connection, sites[at : at + BATCH])


def _fit_sites(connection: duckdb.DuckDBPyConnection, sites: list[str]) -> None:
    for name in ("calibration_check", "calibration_day"):
        connection.execute(f"CREATE OR REPLACE TEMP TABLE {name} AS {sql(name)}", {"sites": sites})
    checks = connection.sql("FROM calibration_check ORDER BY check_number").pl()
    days = connection.sql("FROM calibration_day ORDER BY day_number").pl()
    used = connection.sql(sql("calibration_window")).pl()
    found = lines_of(checks, days, used)
    connection.register("calibrated", found.to_arrow())
    insert(connection, CalibrationLine, "FROM calibrated")
    connection.unregister("calibrated")
    connection.execute("DROP TABLE calibration_check; DROP TABLE calibration_day")


def lines_of(checks: pl.DataFrame, days: pl.DataFrame, used: pl.DataFrame) -> pl.DataFrame:
    """Return calibration_line.

    Args:
        checks: as calibration_check.sql, in its order.
        days: as calibration_day.sql, in its order.
        used: as calibration_window.sql: which checks lie in the year up to which day.
    """
    settled = _settled(checks)
    rows = (
        used.join(days.select("day_number", "known_from"), on="day_number", how="left",
                  maintain_order="left")
        .hstack(checks[used["check_number"]].drop("check_number", *CHAMBER))
        .hstack(settled[used["check_number"]])
        .with_columns((pl.col("known_from") - pl.col("local_date")).dt.total_days().alias("age"))
    )  # fmt: skip
    # A dose that a retest settled as chance tells of the scatter alone; two of them are no chance.
    settled_by = (pl.col("closed_on") <= pl.col("known_from")).fill_null(value=False)
    rows = rows.with_columns(
        (settled_by & (settled_by.sum().over("day_number") == 1)).alias("is_chance")
    )
    is_recent, is_wet = pl.col("age") < dose_errors.RECENT_DAYS, pl.col("dose_ul") > 0
    recent = rows.filter(is_recent)
    lined = recent.filter(~pl.col("is_chance"))
    wet = rows.filter(is_wet)
    errors = dose_errors.errors(_as_checks(wet), days.height)
    found = dosed_line.lines(_as_dosed(lined), days.height)
    counts = days.select("day_number").join(_counts(lined), on="day_number", how="left",
                                            maintain_order="left")  # fmt: skip
    verdicts = {
        name: getattr(chamber_verdict, name)(errors) for name in ("bias", "scatter", "drift")
    }
    is_holding = dosed_line.is_holding(
        found, counts["lined"].fill_null(0).to_numpy(), counts["doses"].fill_null(0).to_numpy()
    )
    is_clean = (verdicts["scatter"] != "outside") & (verdicts["drift"] != "outside")
    is_known = errors.days >= dose_errors.FEWEST_DAYS
    state = np.full(days.height, QUIET)
    state[wet["day_number"].to_numpy()] = wet["state"].to_numpy()  # the last of each day stays
    standing = chamber_verdict.standing(verdicts, is_holding & is_clean, state)
    frame = days.drop("day_number").with_columns(
        **_numbers(errors, found),
        **{name: pl.Series(words) for name, words in verdicts.items()},
        checks_in_180_days=_counts_of(recent.filter(is_wet), days.height),
        checked_days_in_180=pl.Series(errors.days),
        doses=counts["doses"].fill_null(0),
        lowest_dose_ul=counts["lowest_dose_ul"],
        highest_dose_ul=counts["highest_dose_ul"],
        blank_limit_ul=counts["blank_limit_ul"],
        is_applied=pl.Series(is_holding & is_clean & is_known),
        standing=pl.Series(standing),
    )
    return _kept_while_open(frame).select(list(columns(CalibrationLine)))


def _settled(checks: pl.DataFrame) -> pl.DataFrame:
    """Return the state after each check and the day that settled it as chance; blanks have none."""
    wet = checks.filter(pl.col("dose_ul") > 0)
    found = retests(
        wet["chamber_number"].rank("dense").cast(pl.Int64).to_numpy() - 1,
        wet["local_date"].to_physical().cast(pl.Int64).to_numpy(),
        wet["dose_ul"].to_numpy(),
        _as_error(wet),
    )
    told = wet.select("check_number").with_columns(
        state=pl.Series(found.state),
        closed_on=pl.Series(found.closed_on).replace(NEVER, None).cast(pl.Int32).cast(pl.Date),
    )
    return checks.select("check_number").join(
        told, on="check_number", how="left", maintain_order="left"
    ).drop("check_number")  # fmt: skip


def _as_error(rows: pl.DataFrame) -> Floats:
    return ((rows["reading_ul"] - rows["dose_ul"]) / rows["tolerance_ul"]).to_numpy()


def _as_checks(rows: pl.DataFrame) -> dose_errors.Checks:
    names = ("day_number", "age", "dose_ul", "reading_ul", "tolerance_ul", "is_chance")
    return dose_errors.Checks(*(rows[name].to_numpy() for name in names))


def _as_dosed(rows: pl.DataFrame) -> dosed_line.Dosed:
    day = -rows["age"]
    names = ("dose_ul", "reading_ul", "tolerance_ul", "dose_sd_ul")
    return dosed_line.Dosed(
        rows["day_number"].to_numpy(), day.to_numpy(), *(rows[name].to_numpy() for name in names)
    )


def _counts(lined: pl.DataFrame) -> pl.DataFrame:
    is_wet = pl.col("dose_ul") > 0
    blank = pl.col("reading_ul").filter(~is_wet)
    return lined.group_by("day_number", maintain_order=True).agg(
        is_wet.sum().cast(pl.Int64).alias("lined"),
        pl.col("dose_ul").filter(is_wet).n_unique().cast(pl.Int64).alias("doses"),
        pl.col("dose_ul").min().alias("lowest_dose_ul"),
        pl.col("dose_ul").max().alias("highest_dose_ul"),
        (blank.mean() + 3 * blank.std()).round(DIGITS).alias("blank_limit_ul"),
    )


def _counts_of(rows: pl.DataFrame, days: int) -> pl.Series:
    return pl.Series(np.bincount(rows["day_number"].to_numpy(), minlength=days))


def _numbers(errors: dose_errors.Errors, found: dosed_line.Lines) -> dict[str, pl.Series]:
    given = {
        "mean_error_tolerances": errors.mean,
        "mean_error_low_tolerances": errors.mean_low,
        "mean_error_high_tolerances": errors.mean_high,
        "scatter_sd_tolerances": errors.sd,
        "scatter_sd_low_tolerances": errors.sd_low,
        "half_year_drift_tolerances": errors.drift,
        "half_year_drift_low_tolerances": errors.drift_low,
        "half_year_drift_high_tolerances": errors.drift_high,
        "intercept_ul": found.intercept_ul,
        "slope": found.slope,
        "intercept_se_ul": found.intercept_se_ul,
        "slope_se": found.slope_se,
        "intercept_slope_correlation": found.correlation,
        "repeatability_sd_ul": found.repeatability_sd_ul,
        "corrected_error_rms_tolerances": found.corrected_rms,
    }
    return {
        name: pl.Series(np.where(np.isfinite(value), np.round(value, DIGITS), np.nan))
        .fill_nan(None)
        for name, value in given.items()
    }  # fmt: skip


def _kept_while_open(frame: pl.DataFrame) -> pl.DataFrame:
    """Give a reading under an open retest the line and the standing of before the bad dose."""
    is_open = pl.col("standing") == "retest"
    place = pl.int_range(pl.len()).over(*CHAMBER)
    frame = frame.with_columns(
        pl.when(~is_open).then(place).forward_fill().over(*CHAMBER).alias("before")
    )
    kept = {name: pl.col(name).gather(pl.col("before")).over(*CHAMBER) for name in KEPT}
    return frame.with_columns(
        kept.pop("standing").fill_null("too_few_checks").alias("reading_standing"),
        kept.pop("is_applied").fill_null(value=False).alias("is_applied"),
        **kept,
    )
