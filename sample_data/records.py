"""The tables beside the sessions: dose checks, repeats, service events, visits, reference."""

from datetime import date

import numpy as np
import polars as pl

from sample_data import sessions as s
from sample_data import visits as v
from sample_data.columns import FORBIDDEN, UNLISTED, box_id, model_codes
from sample_data.group import (
    BOX_WITHIN_SD_FACTOR,
    CLIMATES,
    DEAD,
    NORMAL,
    STYLE_GAIN_DB,
    STYLE_OSPL90_DB_SPL,
    STYLES,
    WEAK,
    WITHIN_SD,
    Chamber,
    Site,
)
from sample_data.visits import Rows

DOSES_UL = np.array([2.0, 5.0, 10.0, 20.0, 1.0])


def dose_checks(
    site: Site, rng: np.random.Generator, again: np.random.Generator, days: np.ndarray
) -> pl.DataFrame:
    """Return two known doses a fortnight per chamber and a blank every tenth week.

    Every second time the first dose is put in once more; `again` draws its errors.
    """
    frames = []
    for chamber in site.chambers:
        if chamber.checked_until is None:
            continue
        checked = days[days <= np.datetime64(chamber.checked_until)][::10]
        count = len(checked)
        dose = np.stack(
            [DOSES_UL[(2 * np.arange(count)) % 5], DOSES_UL[(2 * np.arange(count) + 1) % 5]], 1
        )
        dose[np.arange(count) % 5 == 4, 1] = 0.0
        at = checked.astype("datetime64[m]")[:, None] + np.array([470, 482])
        dose, at = dose.ravel(), at.ravel()
        noise = rng.normal(size=(2, len(dose)))
        twice = np.arange(2, len(dose), 4)
        order = np.argsort(np.r_[at, at[twice] + 24], kind="stable")
        dose, at = np.r_[dose, dose[twice]][order], np.r_[at, at[twice] + 24][order]
        noise = np.c_[noise, again.normal(size=(2, len(twice)))][:, order]
        slope = chamber.slope_on(at)
        is_newest = at.astype("datetime64[D]") == checked[-1]
        slope = slope + np.where(is_newest, chamber.newest_day_error_share, 0.0)
        reading = chamber.offset_ul + slope * dose * (1 + chamber.error_share * noise[0])
        reading = np.clip(np.round(reading + 0.05 * noise[1], 2), 0.0, None)
        climate = CLIMATES[site.climate]
        month = at.astype("datetime64[M]").astype(int) % 12
        frames.append(
            pl.DataFrame({
                "dryer_id": [site.dryer_id(chamber)] * len(dose),
                "checked_at": pl.Series(at.astype("datetime64[us]")).dt.strftime("%Y-%m-%dT%H:%M"),
                "dose_ul": dose,
                "reading_ul": reading,
                "dose_method": ["pipette"] * len(dose),
                "dose_uncertainty_pct": [2.0] * len(dose),
                "ambient_temp_c": np.round(
                    21 + 0.1 * climate.temperatures_c()[month] + noise[0], 1
                ),
            })
        )  # fmt: skip
    return pl.concat(frames) if frames else pl.DataFrame()


def repeat_measurements(
    site: Site, rng: np.random.Generator, wearers: Rows, rows: Rows, wanted: int
) -> pl.DataFrame:
    """Return pairs of measures of one aid, re-seated, nothing done between."""
    able = np.flatnonzero((rows["condition_after"] == NORMAL) & (rows["generation"] == 0))
    if not site.test_box or not len(able):
        return pl.DataFrame()
    chosen = np.sort(rng.choice(able, min(wanted, len(able)), replace=False))
    style = wearers["style"][rows["wearer"][chosen]]
    factor = BOX_WITHIN_SD_FACTOR.get(site.number, 1.0)
    size = len(chosen)
    moment = rows["day"][chosen].astype("datetime64[m]") + 1020 + np.arange(size) % 45
    levels = {
        "hfa_ospl90_db_spl": (np.array(STYLE_OSPL90_DB_SPL)[style], WITHIN_SD["hfa_ospl90"]),
        "hfa_gain_db": (np.array(STYLE_GAIN_DB)[style], WITHIN_SD["hfa_gain"]),
        "ein_db_spl": (np.full(size, 27.0), WITHIN_SD["ein"]),
    }
    columns: dict[str, object] = {
        "device_id": s.device_names(site, rows["aid"][chosen], rows["generation"][chosen]),
        "measured_at": pl.Series(moment.astype("datetime64[us]")).dt.strftime("%Y-%m-%dT%H:%M"),
        "test_box_id": [box_id(site)] * size,
    }
    for name, (level, sd) in levels.items():
        own = level + rng.normal(0, 1.5, size)
        for turn in ("first", "second"):
            columns[f"{turn}_{name}"] = np.round(own + rng.normal(0, sd * factor, size), 1)
    own = np.log(1.4) + rng.normal(0, 0.35, size)
    for turn in ("first", "second"):
        noise = rng.normal(0, WITHIN_SD["thd_log"] * factor, size)
        columns[f"{turn}_thd_pct"] = np.round(np.exp(own + noise), 2)
    return pl.DataFrame(columns)


def service_events(site: Site, rng: np.random.Generator, rows: Rows, last: date) -> pl.DataFrame:
    """Return repairs and replacements that follow sessions, renewed failures, losses."""
    size = len(rows["aid"])
    draw = rng.random(size)
    wait = rng.integers(7, 26, size)
    rescued = (
        (rows["condition_cleaned"] <= WEAK) & (rows["condition_after"] == NORMAL) & rows["is_dried"]
    )
    repair = rows["disposition"] == s.REPAIR
    newest = np.zeros(size, bool)
    order = np.lexsort((rows["day"], rows["aid"]))
    aid = rows["aid"][order]
    newest[order[np.flatnonzero(np.r_[aid[1:] != aid[:-1], True])]] = True
    newest &= rows["disposition"] == s.RETURNED
    parts = [
        ("sent_for_repair", repair, np.zeros(size, int), None),
        ("back_from_repair", repair, wait, wait),
        ("replaced", rows["disposition"] == s.REPLACED, 3 + wait % 7, 3 + wait % 7),
        ("failed_again", rescued & (draw < 0.10), 5 + (draw * 800).astype(int), None),
        ("lost", newest & (draw > 0.985), 10 + 3 * wait, None),
        ("retired", newest & (draw > 0.96) & (draw < 0.97), 20 + 3 * wait, None),
    ]
    frames = []
    for event, mask, delay, absent in parts:
        index = np.flatnonzero(mask)
        day = rows["day"][index] + delay[index]
        index, day = index[day <= np.datetime64(last)], day[day <= np.datetime64(last)]
        generation = rows["generation"][index]
        renewed = s.device_names(site, rows["aid"][index], generation + 1)
        age = rows["age_months"][index]
        frames.append(
            pl.DataFrame({
                "device_id": s.device_names(site, rows["aid"][index], generation),
                "occurred_on": pl.Series(day.astype("datetime64[D]")).dt.strftime("%Y-%m-%d"),
                "event": pl.Series([event] * len(index), dtype=pl.String),
                "new_device_id": renewed if event == "replaced"
                else pl.Series([None] * len(index), dtype=pl.String),
                "in_warranty": s.words(("true", "false"), (age > 36).astype(int)),
                "days_without_device": pl.Series(
                    absent[index] if absent is not None else [None] * len(index), dtype=pl.Int64
                ),
            })
        )  # fmt: skip
    table = pl.concat(frames).unique(["device_id", "occurred_on", "event"], keep="first")
    return table.sort("occurred_on", "device_id", "event")


def visit_counts(rng: np.random.Generator, rows: Rows) -> pl.DataFrame:
    """Return aids seen by month and reason: those in the sessions and those not dried."""
    table = (
        pl.DataFrame({
            "month": pl.Series(rows["day"].astype("datetime64[D]")).dt.strftime("%Y-%m"),
            "reason": rows["reason"],
            "dead": rows["condition_before"] == DEAD,
            "weak": rows["condition_before"] == WEAK,
        })
        .group_by("month", "reason")
        .agg(pl.len().alias("n"), pl.col("dead").sum(), pl.col("weak").sum())
        .sort("month", "reason")
    )  # fmt: skip
    size = len(table)
    dead = table["dead"].to_numpy() + rng.poisson(0.15 * table["dead"].to_numpy())
    weak = table["weak"].to_numpy() + rng.poisson(0.2 * table["weak"].to_numpy())
    seen = table["n"].to_numpy() + rng.poisson(0.25 * table["n"].to_numpy())
    return pl.DataFrame({
        "month": table["month"],
        "visit_reason": s.words(v.REASONS, table["reason"].to_numpy()),
        "aids_seen": np.maximum(seen, dead + weak),
        "dead_seen": dead,
        "weak_seen": weak,
    }) if size else pl.DataFrame()  # fmt: skip


def reference(sites: tuple[Site, ...]) -> dict[str, pl.DataFrame]:
    """Return the reference tables of the group by name."""
    months = [(site, CLIMATES[site.climate]) for site in sites if site.has_normals]
    chambers = [(site, chamber) for site in sites for chamber in site.chambers]
    codes = model_codes()
    styles = [code.rsplit("-", 1)[0] for code in codes]
    step = [2.0 if code.endswith("q") else 0.0 for code in codes]
    allowed: dict[str, str | None] = {FORBIDDEN: "false", UNLISTED: None}
    gain = [STYLE_GAIN_DB[STYLES.index(style)] for style in styles]
    ospl = [STYLE_OSPL90_DB_SPL[STYLES.index(style)] for style in styles]
    return {
        "sites": pl.DataFrame({
            "site_id": [x.site_id for x in sites],
            "site_name": [x.name for x in sites],
            "latitude": [x.latitude for x in sites],
            "longitude": [x.longitude for x in sites],
            "elevation_m": [x.elevation_m for x in sites],
            "time_zone": [x.time_zone for x in sites],
            "opened_on": [f"{2008 + x.number % 12}-03-01" for x in sites],
            "open_days_per_week": [5] * len(sites),
        }),
        "dryers": pl.DataFrame({
            "site_id": [x.site_id for x, _ in chambers],
            "dryer_id": [x.dryer_id(c) for x, c in chambers],
            "installed_on": [f"2021-0{1 + x.number % 8}-15" for x, _ in chambers],
            "detection_limit_ul": [c.detection_limit_ul for _, c in chambers],
            "dose_tolerance_pct": [10] * len(chambers),
            "dose_tolerance_floor_ul": [0.2] * len(chambers),
            "reading_principle": ["humidity of the pumped air"] * len(chambers),
        }),
        "dryer_events": pl.DataFrame(
            _dryer_events(chambers), schema=["dryer_id", "occurred_on", "event"], orient="row"
        ),
        "device_models": pl.DataFrame({
            "model_code": codes,
            "hfa_ospl90_spec_db_spl": [a + b for a, b in zip(ospl, step, strict=True)],
            "hfa_gain_spec_db": [a + b for a, b in zip(gain, step, strict=True)],
            "ein_max_db_spl": [30.0] * len(styles),
            "thd_max_pct": [5.0] * len(styles),
            "vacuum_allowed": [allowed.get(code, "true") for code in codes],
            "drying_temp_max_c": [45] * len(styles),
        }),
        "climate_normals": pl.DataFrame({
            "site_id": [x.site_id for x, _ in months for _ in range(12)],
            "month": [m for _ in months for m in range(1, 13)],
            "mean_temp_c": np.concatenate([c.temperatures_c() for _, c in months]),
            "precipitation_mm": [mm for _, c in months for mm in c.precipitation_mm],
            "mean_dew_point_c": np.round(np.concatenate(
                [c.temperatures_c() - c.dew_point_spread_c for _, c in months]), 1),
        }) if months else pl.DataFrame(),
    }  # fmt: skip


def _dryer_events(chambers: list[tuple[Site, Chamber]]) -> list[tuple[str, str, str]]:
    """Return one event of each chamber of every second site, and the services declared."""
    usual = [
        (x.dryer_id(c), f"2024-1{x.number % 3}-04", "serviced" if c.number == 1 else "seal_changed")
        for x, c in chambers
        if x.number % 2
    ]
    return usual + [(x.dryer_id(c), day, "serviced") for x, c in chambers for day in c.serviced_on]
