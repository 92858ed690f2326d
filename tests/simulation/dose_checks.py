"""How often are chambers of a known kind judged rightly from their dose checks?

A chamber is checked every fortnight for two years with one dose; where that dose is beyond the
tolerance, the same dose is put in twice more on the same day. Readings are the dose times the
chamber's slope, with a relative error; each check day is judged as the warehouse judges it.

Run `python -m tests.simulation.dose_checks` for the recorded results.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from pipeline.warehouse.calibration import lines_of
from schemas.chambers import STANDINGS

DAYS, EVERY = 52, 14
DOSES = (2.0, 5.0, 10.0, 20.0)
FIRST_DAY = date(2024, 1, 1)
SERVICE = [name for name, word in STANDINGS.items() if word.remedy == "service"]
SEED = 31


@dataclass(frozen=True)
class Kind:
    """A kind of chamber: slope, change of it in a year, relative scatter, one bad dose.

    `bad_dose` is the relative error of the first dose put in on day 30, or 0.
    """

    slope: float = 1.0
    drift_per_year: float = 0.0
    scatter: float = 0.03
    bad_dose: float = 0.0


def judged(kind: Kind, chambers: int, rng: np.random.Generator) -> pl.DataFrame:
    """Return calibration_line with `check_day`, 1 to 52, of so many chambers of a kind."""
    shape = (chambers, DAYS, 3)
    years = np.arange(DAYS)[None, :, None] * EVERY / 365.25
    slope = kind.slope * (1 + kind.drift_per_year * years)
    dose = np.broadcast_to(rng.choice(DOSES, (chambers, DAYS, 1)), shape)
    reading = dose * slope * (1 + kind.scatter * rng.normal(size=shape))
    reading[:, 30, 0] *= 1 + kind.bad_dose
    reading = np.maximum(np.round(reading, 1), 0)
    tolerance = np.maximum(dose / 10, 0.2)
    is_bad = np.abs(reading[..., 0] - dose[..., 0]) > tolerance[..., 0] + 1e-9
    is_there = np.stack([np.ones_like(is_bad), is_bad, is_bad], axis=2)
    chamber, day, _ = np.nonzero(is_there)
    dates = pl.Series(np.datetime64(FIRST_DAY) + EVERY * day)
    names = pl.Series(chamber).cast(pl.String).str.zfill(6)
    checks = pl.DataFrame({
        "check_number": np.arange(day.size), "chamber_number": chamber, "site_id": "s",
        "dryer_id": names, "served_on": pl.Series([None] * day.size, dtype=pl.Date),
        "local_date": dates.cast(pl.Date), "dose_ul": dose[is_there],
        "reading_ul": reading[is_there], "tolerance_ul": tolerance[is_there],
        "dose_sd_ul": np.zeros(day.size),
    })  # fmt: skip
    days = (
        checks.group_by("site_id", "dryer_id", "served_on", "local_date")
        .agg(pl.len().cast(pl.Int64).alias("checks"))
        .sort("dryer_id", "local_date")
        .with_columns(known_from="local_date", last_checked_on="local_date")
        .drop("local_date")
        .with_row_index("day_number")
        .with_columns(pl.col("day_number").cast(pl.Int64))
    )
    used = (
        days.select("day_number", "dryer_id", "known_from")
        .join(checks.select("check_number", "dryer_id", "local_date"), on="dryer_id")
        .filter(
            pl.col("local_date") <= pl.col("known_from"),
            pl.col("local_date") > pl.col("known_from").dt.offset_by("-365d"),
        )
        .select("day_number", "check_number")
        .sort("day_number", "check_number")
    )
    return lines_of(checks, days, used).with_columns(
        pl.int_range(1, DAYS + 1).over("dryer_id").alias("check_day")
    )


def ever(found: pl.DataFrame, words: list[str]) -> float:
    """Return the share of chambers that had one of the standings on any day."""
    return float(
        found.group_by("dryer_id").agg(pl.col("standing").is_in(words).any())["standing"].mean()
    )


def first(found: pl.DataFrame, column: str) -> pl.Series:
    """Return the check day on which each chamber's verdict is first outside; null if never."""
    is_out = pl.col(column) == "outside"
    return found.group_by("dryer_id").agg(pl.col("check_day").filter(is_out).min())["check_day"]


def on(found: pl.DataFrame, day: int, word: str) -> float:
    """Return the share of chambers of a standing on a check day."""
    return float((found.filter(check_day=day)["standing"] == word).mean())


def run(kind: Kind, chambers: int) -> pl.DataFrame:
    """Return the judgements on chambers of a kind, some hundreds at a time."""
    rng = np.random.default_rng([SEED, *(round(1000 * abs(v)) for v in vars(kind).values())])
    parts = [judged(kind, min(250, chambers - at), rng) for at in range(0, chambers, 250)]
    return pl.concat(
        part.with_columns(pl.col("dryer_id") + f"-{at}") for at, part in enumerate(parts)
    )


def main(chambers: int = 2000) -> None:
    """Print a line for each design."""
    for name, kind in (
        ("good, .03", Kind()), ("good, .04", Kind(scatter=0.04)),
        ("good, .03, one bad dose", Kind(bad_dose=0.5)),
        ("good, .04, one bad dose", Kind(scatter=0.04, bad_dose=0.5)),
    ):  # fmt: skip
        found = run(kind, chambers)
        fine = [round(on(found, day, "in_tolerance"), 4) for day in (6, 8, 13, 31, 32, 52)]
        service = round(ever(found, SERVICE), 4)
        at_once = round(sum(on(found, 31, word) for word in SERVICE), 4)
        print(f"{name}: ever service {service}, on day 31 {at_once}; in tolerance {fine}",
              flush=True)  # fmt: skip
    for name, kind, column in (
        ("-25 %", Kind(slope=0.75), "bias"),
        ("scatter .22", Kind(scatter=0.22), "scatter"),
        ("-30 % a year", Kind(drift_per_year=-0.3), "drift"),
        ("-30 % a year, .04", Kind(drift_per_year=-0.3, scatter=0.04), "drift"),
    ):
        at = first(run(kind, chambers), column).fill_null(DAYS + 1)
        by = [round(float((at <= day).mean()), 4) for day in (6, 7, 8)]
        middle = [int(at.quantile(q, "nearest") or 0) for q in (0.05, 0.5, 0.95)]
        days = [EVERY * (day - 1) for day in middle]
        print(f"{name}: found by check 6, 7, 8: {by}; 5, 50, 95 % on day {days}", flush=True)
    for scatter in (0.03, 0.04, 0.08, 0.22):
        found = run(Kind(slope=0.75, scatter=scatter), chambers)
        share = [round(on(found, day, "correctable"), 4) for day in (8, 13, 26)]
        print(f"-25 %, {scatter}: correctable at check 8, 13, 26: {share}", flush=True)


if __name__ == "__main__":
    main()
