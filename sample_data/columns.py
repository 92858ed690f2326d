"""From a site's true rows to the columns it exports, with what it leaves out or copies."""

import numpy as np
import polars as pl

from sample_data import sessions as s
from sample_data import visits as v
from sample_data.group import CONDITIONS, DEAD, HOME_DRYERS, STYLES, Site
from sample_data.visits import Rows

MINIMUM = (
    "device_id", "started_at", "device_style", "condition_before", "condition_after",
    "moisture_ul", "is_moisture_below_detection",
)  # fmt: skip
MEASURED = (
    "hfa_ospl90_before_db_spl", "hfa_ospl90_after_db_spl", "hfa_gain_before_db",
    "hfa_gain_after_db", "ein_before_db_spl", "ein_after_db_spl", "thd_before_pct",
    "thd_after_pct",
)  # fmt: skip
ZINC_AIR, LITHIUM = 0, 1
# Models whose aids are rechargeable only: the maker forbids vacuum, or nobody has asked.
FORBIDDEN, UNLISTED = "ric-r", "ric-s"


def session_frame(
    site: Site, rng: np.random.Generator, more: np.random.Generator, wearers: Rows, rows: Rows
) -> pl.DataFrame:
    """Return the export's columns as text-ready values, one row per aid per session."""
    size = len(rows["aid"])
    person = rows["wearer"]
    dried = rows["is_dried"]
    style = wearers["style"][person]
    power = np.where(wearers["is_rechargeable"][person], LITHIUM, ZINC_AIR)
    order = rng.random(size)
    left_in = _first(dried & (power == ZINC_AIR), order, site.cells_left_in)
    cell = np.where(power == LITHIUM, 1, np.where(left_in, 2, 0))
    day = pl.Series(rows["day"].astype("datetime64[D]"))
    minute = pl.Series(rows["minute"])
    stamp = day.cast(pl.Datetime("us")) + pl.Series(minute * 60_000_000).cast(pl.Duration("us"))
    before, cleaned, after = (
        rows["condition_before"], rows["condition_cleaned"], rows["condition_after"].copy(),
    )  # fmt: skip
    not_assessed = rng.random(size) < site.share_not_assessed
    copied = np.zeros(size, bool)
    if site.copies_forward:
        copied = rng.random(size) < 0.85
        # Whoever copies writes the state on arrival into both later columns.
        cleaned, after = np.where(copied, before, cleaned), np.where(copied, before, after)
    after = np.where(not_assessed & ~copied, -1, after)
    wet = rows["exposure"] <= v.SPLASH
    reason = rows["reason"]
    names: dict[str, pl.Series] = {
        "session_id": _where(
            pl.Series(["S"]).new_from_index(0, size)
            + pl.Series(100_000 + rows["load"]).cast(pl.String), np.ones(size, bool)
        ),
        "device_id": _where(
            s.device_names(site, rows["aid"], rows["generation"]), rng.random(size) >= 0.012
        ),
        "patient_id": _where(
            s.wearer_names(site, person), (rng.random(len(wearers["style"])) >= 0.015)[person]
        ),
        "treatment": s.words(("dried", "cleaned_only"), np.where(dried, 0, 1)),
        "dryer_id": s.words(
            tuple(site.dryer_id(c) for c in site.chambers), np.where(dried, rows["chamber"], -1)
        ),
        "started_at": (
            day.dt.strftime("%Y-%m-%d") if site.records == "minimum"
            else stamp.dt.strftime("%Y-%m-%dT%H:%M")
        ),
        "ear": s.words(("left", "right"), rows["ear"]),
        "device_style": s.words(STYLES, style),
        "power_source": s.words(("zinc_air", "lithium_ion"), power),
        "cell_in_chamber": s.words(
            ("removed", "built_in", "left_in"), np.where(dried, cell, -1)
        ),
        "device_age_months": _where(
            pl.Series(rows["age_months"].astype(np.int64)), rng.random(size) >= 0.05
        ),
        "model_code": _models(site, rows, wearers, order),
        "visit_reason": s.words(v.REASONS, reason),
        "symptoms": s.words(s.SYMPTOMS, s.symptom_codes(more, rows, power == LITHIUM)),
        "exposure": s.words(v.EXPOSURES, rows["exposure"]),
        "water_kind": s.words(v.WATER_KINDS, rows["water"]),
        "done_before_visit": s.words(
            s.DONE_BEFORE, np.where(wet, v.pick(np.cumsum([0.45, 0.25, 0.15, 0.05]),
                                                  rng.random(size)), -1)
        ),
        "home_dryer": s.words(HOME_DRYERS, s.home_dryer_of(wearers)[person]),
        "condition_before": s.words(CONDITIONS, before),
        "condition_after_cleaning": s.words(
            CONDITIONS, np.where((rng.random(size) < 0.02) & (cleaned == before), -1, cleaned)
        ),
        "condition_after": s.words(CONDITIONS, after),
        "parts_changed": s.words(s.PARTS, rows["part"]),
        "assessor_id": s.words(("T1", "T2", "T3", "T4"), rows["visit"] % 3),
        "cycle_programme": s.words(
            ("30 minutes" if site.is_fixed_time else "until dry",), np.where(dried, 0, -1)
        ),
        "cycle_minutes": _where(pl.Series(rows["cycle_minutes"].astype(np.int64)), dried),
        "ended_by": s.words(s.ENDED, np.where(dried, rows["ended"], -1)),
        "moisture_ul": _number(rows["reading_ul"]),
        "is_moisture_below_detection": s.words(("true",), np.where(rows["is_below"], 0, -1)),
        "other_items_in_chamber": s.words(
            ("none", "ear_moulds"), np.where(dried, (rows["load"] % 29 == 0).astype(int), -1)
        ),
        "disposition": s.words(s.DISPOSITIONS, rows["disposition"]),
    }  # fmt: skip
    hours = np.where(wet, rows["hours"], np.nan)
    if site.records == "delay_in_words":
        edges = np.searchsorted([24, 48, 96, 168], np.nan_to_num(hours), side="right")
        bands = ("under_24h", "24_48h", "2_4_days", "4_7_days", "over_7_days")
        names["delay_band"] = s.words(bands, np.where(wet, edges, -1))
    else:
        names["hours_since_exposure"] = _whole(np.where(rng.random(size) < 0.06, np.nan, hours))
    if not site.copies_forward and site.number % 2:
        # Chambers that log their lowest pressure and highest temperature, one value a load.
        noise = rng.normal(size=(2, int(rows["load"].max(initial=0)) + 1))[:, rows["load"]]
        altitude_kpa = 101.3 * (1 - 2.2558e-5 * site.elevation_m) ** 5.2559
        excess = np.array([c.pressure_excess_kpa for c in site.chambers])[rows["chamber"]]
        lowest = np.round(0.04 * altitude_kpa + excess + 0.3 * np.abs(noise[0]), 1)
        names["chamber_pressure_min_kpa_abs"] = _number(np.where(dried, lowest, np.nan))
        names["chamber_temp_max_c"] = _whole(np.where(dried, np.round(39 + noise[1]), np.nan))
    if site.test_box:
        _add_measures(site, rows, copied & (after != -1), after == -1, names)
    frame = pl.DataFrame(names)
    return frame.select(_exported(site, frame.columns)).sort("started_at", maintain_order=True)


def _models(site: Site, rows: Rows, wearers: Rows, order: np.ndarray) -> pl.Series:
    """Return each aid's model; the rows against the rules for cells are of aids seen once."""
    person = rows["wearer"]
    is_once = np.bincount(person, minlength=len(wearers["style"]))[person] == 1
    able = is_once & rows["is_dried"] & wearers["is_rechargeable"][person]
    able &= wearers["style"][person] == STYLES.index("ric")
    wanted = site.lithium_forbidden + site.lithium_unlisted
    forbidden = _first(able, order, site.lithium_forbidden)
    unlisted = _first(able, order, wanted) & ~forbidden
    known = len(STYLES) * 2
    usual = wearers["style"][person] * 2 + wearers["model"][person]
    code = np.where(forbidden, known, np.where(unlisted, known + 1, usual))
    return s.words(model_codes(), code)


def _first(able: np.ndarray, order: np.ndarray, wanted: int) -> np.ndarray:
    """Mark `wanted` of the rows that are able, those of the least `order`."""
    chosen = np.zeros(len(able), bool)
    index = np.flatnonzero(able)
    chosen[index[np.argsort(order[index], kind="stable")[:wanted]]] = True
    return chosen


def _add_measures(
    site: Site,
    rows: Rows,
    copied: np.ndarray,
    not_assessed: np.ndarray,
    names: dict[str, pl.Series],
) -> None:
    measured, after = rows["is_measured"], rows["is_measured_after"] & ~not_assessed
    values = {
        name: np.where(not_assessed, np.nan, rows[name]) if "_after_" in name else rows[name]
        for name in MEASURED
    }
    is_copied = copied & measured & (rows["condition_before"] != DEAD)
    after |= is_copied
    for name in MEASURED:
        if "_after_" in name:
            source = values[name.replace("_after_", "_before_")]
            values[name] = np.where(is_copied, source, values[name])
    if site.copies_forward:
        # No reading can belong to an aid graded dead: the site leaves those cells empty.
        dead = copied & (rows["condition_before"] == DEAD)
        for name in MEASURED:
            values[name] = np.where(dead, np.nan, values[name])
        measured, after = measured & ~dead, after & ~dead
    by = ("listening_check", "coupler_measurement")
    names["before_measured_when"] = s.words(("after_cleaning",), np.where(measured, 0, -1))
    names["assessed_before_by"] = s.words(by, measured.astype(int))
    names["assessed_after_by"] = s.words(by, np.where(not_assessed, -1, after.astype(int)))
    names["test_box_id"] = s.words((box_id(site),), np.where(measured, 0, -1))
    names["measured_settings"] = s.words(("reference_test",), np.where(measured, 0, -1))
    for name in MEASURED:
        names[name] = _number(values[name])


def _exported(site: Site, columns: list[str]) -> list[str]:
    if site.records == "minimum":
        return list(MINIMUM)
    left_out = set()
    if site.number % 3 == 0:
        left_out |= {"session_id"}
    if not site.has_comparison:
        left_out |= {"treatment"}
    if site.records == "no_cleaning_grade":
        left_out |= {"condition_after_cleaning"}
    if site.number % 4:
        left_out |= {"assessor_id"}
    if site.number % 2:
        left_out |= {"home_dryer"}
    return [name for name in columns if name not in left_out]


def box_id(site: Site) -> str:
    """Return the site's coupler test box."""
    return f"box-{site.number:02d}"


def model_codes() -> tuple[str, ...]:
    """Return the invented model codes: two per style, then two with a doubt about vacuum."""
    return (*(f"{style}-{letter}" for style in STYLES for letter in "pq"), FORBIDDEN, UNLISTED)


def _where(series: pl.Series, keep: np.ndarray) -> pl.Series:
    return pl.select(pl.when(pl.Series(keep)).then(series)).to_series()


def _number(values: np.ndarray) -> pl.Series:
    return pl.Series(values).fill_nan(None)


def _whole(values: np.ndarray) -> pl.Series:
    return pl.Series(values).fill_nan(None).cast(pl.Int64)
