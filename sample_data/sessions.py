"""The sessions table of one site: chamber loads, water readings, coupler measures, words."""

import numpy as np
import polars as pl

from sample_data import visits as v
from sample_data.group import (
    BOX_WEEK_CHANGE_SD_DB,
    BOX_WEEK_DRIFT_SD_DB,
    BOX_WITHIN_SD_FACTOR,
    CLIMATES,
    DEAD,
    HOME_DRYER_MOISTURE_FACTOR,
    HOME_DRYER_SHARES,
    MOISTURE_DAYS_POWER,
    MOISTURE_NOISE_LOG_SD,
    NORMAL,
    NORMAL_TRULY_BETTER_WHEN_DRIED,
    NORMAL_TRULY_WORSE,
    OTHER_FAULT,
    STYLE_GAIN_DB,
    STYLE_MEDIAN_UL,
    STYLE_OSPL90_DB_SPL,
    TRUE_CHANGE_DB,
    WEAK,
    WITHIN_SD,
    Site,
)
from sample_data.visits import Rows

PARTS = ("none", "battery", "wax_guard", "dome", "tubing", "battery;wax_guard")
SYMPTOMS = (
    "no_sound", "weak_sound", "distorted", "", "not_charging", "weak_sound;intermittent",
    "intermittent", "noisy",
)  # fmt: skip
NOT_CHARGING, WEAK_AND_INTERMITTENT, INTERMITTENT, NOISY = 4, 5, 6, 7
DONE_BEFORE = ("none", "cell_removed", "home_dryer", "heat_applied", "unknown")
DISPOSITIONS = ("returned_to_wearer", "sent_for_repair", "replaced", "kept_for_redrying")
RETURNED, REPAIR, REPLACED, KEPT = range(4)
ENDED = ("dry", "time_limit", "fixed_time", "stopped", "fault")
ID_BLOCK = 100_000  # numbers kept for one site's aids or wearers
EXPOSURE_FACTOR = np.array([5.0, 1.8, 1.5, 1.0, 1.1])


def add_loads(site: Site, rng: np.random.Generator, rows: Rows) -> None:
    """Add `load` (running number), `chamber` (position) and `minute` of the day."""
    key = rows["visit"] * 3 + np.where(rows["is_separate"], 1 + rows["ear"], 0)
    _, first, load = np.unique(key, return_index=True, return_inverse=True)
    day = rows["day"][first]
    order = np.lexsort((rng.random(len(first)), day))
    sorted_day = day[order]
    begins = np.flatnonzero(np.r_[True, sorted_day[1:] != sorted_day[:-1]])
    position = np.arange(len(order)) - np.repeat(begins, np.diff(np.r_[begins, len(order)]))
    chambers = len(site.chambers)
    slot = position // chambers
    pause = np.minimum(45, 570 // (slot.max(initial=0) + 1))
    minute = np.empty(len(order), int)
    minute[order] = 495 + slot * pause + 5 * rng.integers(0, max(1, pause // 5), len(order))
    chamber = np.empty(len(order), int)
    chamber[order] = position % chambers
    number = np.empty(len(order), int)
    number[order] = np.arange(len(order))
    rows["load"], rows["chamber"], rows["minute"] = number[load], chamber[load], minute[load]


def add_dispositions(rng: np.random.Generator, rows: Rows) -> None:
    """Add `disposition` and `generation`, how often the aid has been replaced before."""
    draw = rng.random(len(rows["aid"]))
    fails = rows["condition_after"] != NORMAL
    is_dead = rows["condition_after"] == DEAD
    where = np.where(fails & (draw < np.where(is_dead, 0.95, 0.45)), REPAIR, RETURNED)
    where = np.where(fails & (draw < np.where(is_dead, 0.25, 0.03)), REPLACED, where)
    rows["disposition"] = np.where(rows["is_kept"], KEPT, where)
    order = np.lexsort((rows["day"], rows["aid"]))
    replaced = (rows["disposition"][order] == REPLACED).astype(int)
    total = np.cumsum(replaced) - replaced
    aid = rows["aid"][order]
    begins = np.flatnonzero(np.r_[True, aid[1:] != aid[:-1]])
    total -= np.repeat(total[begins], np.diff(np.r_[begins, len(aid)]))
    rows["generation"] = np.empty(len(aid), int)
    rows["generation"][order] = total


def add_moisture(site: Site, rng: np.random.Generator, wearers: Rows, rows: Rows) -> None:
    """Add `days_since` and the load's reading: true water of its aids through the chamber's line.

    `reading_ul` is NaN where nothing was read; `is_below` marks readings under the limit.
    """
    size = len(rows["aid"])
    order = np.lexsort((rows["day"], rows["aid"]))
    order = order[rows["is_dried"][order]]
    aid, day = rows["aid"][order], rows["day"][order].astype(int)
    gap = np.full(len(order), 120.0)
    gap[1:] = np.where(aid[1:] == aid[:-1], day[1:] - day[:-1], 120.0)
    days_since = np.full(size, np.nan)
    days_since[order] = gap
    month = rows["day"].astype("datetime64[M]").astype(int) % 12
    climate = CLIMATES[site.climate]
    style = wearers["style"][rows["wearer"]]
    true = (
        np.array(STYLE_MEDIAN_UL)[style]
        * climate.moisture_factor
        * climate.dampness()[month]
        * EXPOSURE_FACTOR[rows["exposure"]]
        * (np.clip(days_since, 1, 365) / 90.0) ** MOISTURE_DAYS_POWER
        * np.exp(wearers["moisture"][rows["wearer"]])
        * np.array(HOME_DRYER_MOISTURE_FACTOR)[home_dryer_of(wearers)[rows["wearer"]]]
        * rng.lognormal(0.0, MOISTURE_NOISE_LOG_SD, size)
    )
    true = np.where(rows["cycle"] > 1, true * 0.3, true)
    load = rows["load"]
    total = np.bincount(load, weights=np.nan_to_num(true))
    line = np.array([[c.offset_ul, c.error_share, c.detection_limit_ul] for c in site.chambers])[
        rows["chamber"]
    ]
    slope = np.stack([c.slope_on(rows["day"]) for c in site.chambers])[
        rows["chamber"], np.arange(size)
    ]
    error = rng.normal(size=(len(total), 2))[load]
    reading = line[:, 0] + slope * total[load] * (1 + line[:, 1] * error[:, 0])
    reading = np.round(reading + 0.05 * error[:, 1], 1)
    is_below = rows["is_dried"] & (reading < line[:, 2])
    is_unread = (rng.random(len(total)) < 0.01)[load] | ~rows["is_dried"]
    rows["days_since"] = days_since
    rows["true_load_ul"] = total[load]
    rows["is_below"] = is_below & ~is_unread
    rows["reading_ul"] = np.where(is_unread | is_below, np.nan, reading)


def add_cycles(site: Site, rng: np.random.Generator, rows: Rows) -> None:
    """Add `cycle_minutes` and `ended`, alike for all rows of a load."""
    loads = int(rows["load"].max(initial=-1)) + 1
    wanted = 14 + 7.0 * np.log1p(rows["true_load_ul"]) + rng.normal(0, 3, loads)[rows["load"]]
    draw = rng.random(loads)[rows["load"]]
    minutes = np.clip(np.round(wanted), 10, 45)
    ended = np.where(wanted > 45, 1, 0)
    if site.is_fixed_time:
        minutes, ended = np.full(len(minutes), 30.0), np.full(len(minutes), 2)
    is_cut = draw < 0.02
    rows["cycle_minutes"] = np.where(is_cut, np.round(minutes * 0.6), minutes)
    rows["ended"] = np.where(draw < 0.004, 4, np.where(is_cut, 3, ended))


def add_coupler(site: Site, rng: np.random.Generator, wearers: Rows, rows: Rows) -> None:
    """Add the measures before and after (NaN where not taken) and `is_measured`.

    Each value = the aid's own level + the state's shift + the test box's week + re-seating noise.
    """
    size = len(rows["aid"])
    before, after = rows["condition_cleaned"], rows["condition_after"]
    measured = (before != DEAD) & (rng.random(size) < np.where(before == NORMAL, 0.75, 0.6))
    measured |= ~rows["is_dried"]
    draw = rng.random(size)
    better = rows["is_dried"] & (before == NORMAL) & (draw < NORMAL_TRULY_BETTER_WHEN_DRIED)
    worse = (before == NORMAL) & (draw > 1 - NORMAL_TRULY_WORSE)
    rows["is_truly_better"], rows["is_truly_worse"] = better & measured, worse & measured
    week = v.week_of(rows["day"])
    week = week - week.min(initial=0)
    weeks = int(week.max(initial=0)) + 1
    drift = rng.normal(0, BOX_WEEK_DRIFT_SD_DB, weeks)[week]
    moved = drift + rng.normal(0, BOX_WEEK_CHANGE_SD_DB, weeks)[week]
    factor = BOX_WITHIN_SD_FACTOR.get(site.number, 1.0)
    style = wearers["style"][rows["wearer"]]
    model_step = 2.0 * wearers["model"][rows["wearer"]]
    own = rng.normal(0, 1.2, 2 * len(wearers["style"]))[rows["aid"]]
    weak = rng.normal(-11.0, 3.0, size)
    shift_before = np.select([before == WEAK, before == OTHER_FAULT, better],
                             [weak, weak * 0.15, -TRUE_CHANGE_DB])  # fmt: skip
    shift_after = np.select([after == WEAK, after == OTHER_FAULT, worse],
                            [weak, weak * 0.15, -TRUE_CHANGE_DB])  # fmt: skip
    noise = rng.normal(size=(8, size))
    gain = np.array(STYLE_GAIN_DB)[style] + model_step + own
    ospl = np.array(STYLE_OSPL90_DB_SPL)[style] + model_step + 0.5 * own
    thd = np.log(1.4) + 0.3 * own
    seen_after = measured & (after != DEAD)
    values = {}
    for moment, shift, state, box, n in (
        ("before", shift_before, before, drift, 0), ("after", shift_after, after, moved, 4),
    ):  # fmt: skip
        faulty = np.where(state == OTHER_FAULT, 1.6, 0.0)
        values[f"hfa_gain_{moment}_db"] = gain + shift + box + _sd("hfa_gain", factor) * noise[n]
        values[f"hfa_ospl90_{moment}_db_spl"] = (
            ospl + 0.6 * shift + box + _sd("hfa_ospl90", factor) * noise[n + 1]
        )
        values[f"ein_{moment}_db_spl"] = 27.0 + 2 * faulty + _sd("ein", factor) * noise[n + 2]
        values[f"thd_{moment}_pct"] = np.clip(
            np.exp(thd + faulty + _sd("thd_log", factor) * noise[n + 3]), 0.1, 60.0
        )
        taken = measured if moment == "before" else seen_after
        for name, value in values.items():
            if f"_{moment}_" in name:
                rows[name] = np.where(taken, np.round(value, 1), np.nan)
    rows["is_measured"], rows["is_measured_after"] = measured, seen_after


def home_dryer_of(wearers: Rows) -> np.ndarray:
    """Return the place of each wearer's dryer at home in `HOME_DRYERS`."""
    return v.pick(np.cumsum(HOME_DRYER_SHARES)[:-1], (wearers["home_dryer"] + 0.5) / 10)


def symptom_codes(rng: np.random.Generator, rows: Rows, is_rechargeable: np.ndarray) -> np.ndarray:
    """Return what the wearer complained of, by the state on arrival; -1 at a plain check."""
    state, draw = rows["condition_before"], rng.random(len(rows["aid"]))
    code = np.where((state == DEAD) & is_rechargeable & (draw < 0.3), NOT_CHARGING, state)
    code = np.where((state == WEAK) & (draw < 0.12), WEAK_AND_INTERMITTENT, code)
    code = np.where((state == OTHER_FAULT) & (draw < 0.4), INTERMITTENT, code)
    code = np.where((state == OTHER_FAULT) & (draw > 0.8), NOISY, code)
    return np.where(rows["reason"] == v.CLEAN_AND_CHECK, -1, code)


def _sd(measure: str, factor: float) -> float:
    return WITHIN_SD[measure] * factor


def words(vocabulary: tuple[str, ...], codes: np.ndarray) -> pl.Series:
    """Return the words of the codes; a code below 0, or an empty word, is missing."""
    table = pl.Series([w or None for w in vocabulary] + [None], dtype=pl.String)
    return table.gather(np.where(codes < 0, len(vocabulary), codes).astype(np.uint32))


def device_names(site: Site, aid: np.ndarray, generation: np.ndarray) -> pl.Series:
    """Return serial-like texts: 'A' and a number, another letter after each replacement."""
    letter = words(("A", "B", "C", "D", "E"), np.minimum(generation, 4))
    number = pl.Series(site.number * ID_BLOCK + aid).cast(pl.String)
    return letter + number


def wearer_names(site: Site, wearer: np.ndarray) -> pl.Series:
    """Return the wearers' invented numbers, 'W' and digits."""
    number = pl.Series(site.number * ID_BLOCK + wearer).cast(pl.String)
    return pl.Series(["W"], dtype=pl.String).new_from_index(0, len(wearer)) + number


def build_rows(
    site: Site, rng: np.random.Generator, days: np.ndarray, years: float, rows_wanted: int
) -> tuple[Rows, Rows]:
    """Return wearers and exactly `rows_wanted` session rows with their true course."""
    expected_per_wearer = (1 + 1.05 * years) * 1.5
    wearers = v.wearers_of(site, rng, int(rows_wanted / expected_per_wearer * 1.15) + 12)
    rows = v.all_rows(site, rng, wearers, days, years)
    order = np.sort(np.argsort(rows["wearer"], kind="stable")[:rows_wanted])
    rows = {name: values[order] for name, values in rows.items()}
    add_loads(site, rng, rows)
    add_dispositions(rng, rows)
    add_moisture(site, rng, wearers, rows)
    add_cycles(site, rng, rows)
    if site.test_box:
        add_coupler(site, rng, wearers, rows)
    return wearers, rows
