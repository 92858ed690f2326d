"""Wearers, their aids and visits, and what drying truly does to each aid brought in.

Rows are a dictionary of equally long numpy arrays, one entry per aid per session, with words
held as codes; `sessions.py` turns them into the export's columns.
"""

from datetime import date, timedelta

import numpy as np
from scipy.special import ndtr

from sample_data.group import (
    AID_VARIANCE,
    DEAD,
    EFFECT_OF_AGE_PER_YEAR,
    EFFECT_OF_DOUBLED_DELAY,
    EFFECT_OF_REPEAT_CYCLE,
    EFFECT_OF_SALT_WATER,
    MODELS_PER_STYLE,
    MOISTURE_WEARER_LOG_SD,
    NORMAL,
    NORMAL_DEAD_AFTER,
    NORMAL_WEAK_AFTER,
    OTHER_FAULT,
    RESCUE_BASE,
    SHARE_FIXED_BY_CLEANING,
    STYLE_SHARES,
    WEAK,
    WEARER_VARIANCE,
    Site,
)

Rows = dict[str, np.ndarray]

REASONS = ("clean_and_check", "problem_reported", "water_incident", "follow_up")
CLEAN_AND_CHECK, PROBLEM, WATER, FOLLOW_UP = range(4)
EXPOSURES = ("immersion", "splash", "perspiration", "none_known", "unknown")
IMMERSION, SPLASH, PERSPIRATION, NONE_KNOWN, EXPOSURE_UNKNOWN = range(5)
WATER_KINDS = ("fresh", "salt", "pool", "soapy", "unknown")
SALT = 1

# Cumulative shares of dead, weak, other_fault on arrival, by reason; the rest is normal.
ARRIVAL_SHARES = np.cumsum([[0.008, 0.070, 0.022], [0.11, 0.45, 0.20], [0.33, 0.30, 0.14]], axis=1)
EXPOSURE_SHARES = np.cumsum(
    [[0.0, 0.01, 0.12, 0.83, 0.04], [0.02, 0.09, 0.24, 0.57, 0.08], [0.70, 0.30, 0.0, 0.0, 0.0]],
    axis=1,
)


def open_days(first: date, last: date) -> np.ndarray:
    """Return the weekdays from first to last, both included, as numpy days."""
    days = np.arange(np.datetime64(first), np.datetime64(last + timedelta(days=1)))
    return days[np.is_busday(days)]


def pick(cumulative: np.ndarray, draw: np.ndarray) -> np.ndarray:
    """Return for each draw in [0, 1) the index of the cumulative share it falls in."""
    return np.asarray((draw[:, None] >= cumulative).sum(axis=1))


def wearers_of(site: Site, rng: np.random.Generator, count: int) -> Rows:
    """Draw wearers: ears fitted, style, age of aids, and the random effects that ears share."""
    style = pick(np.cumsum(STYLE_SHARES)[:-1], rng.random(count))
    return {
        "is_bilateral": rng.random(count) < 0.72,
        "only_ear": rng.integers(0, 2, count),
        "style": style,
        "model": rng.integers(0, MODELS_PER_STYLE, count),
        "is_rechargeable": rng.random(count) < 0.45,
        "age_months": np.round(rng.gamma(2.0, 18.0 if not site.has_hard_mix else 27.0, count)),
        "rescue": rng.normal(0.0, np.sqrt(WEARER_VARIANCE), count),
        "moisture": rng.normal(0.0, MOISTURE_WEARER_LOG_SD, count),
        "home_dryer": rng.integers(0, 10, count),
    }


def first_rows(
    site: Site, rng: np.random.Generator, wearers: Rows, days: np.ndarray, years: float
) -> Rows:
    """Draw every wearer's visits and the aids brought to them, with the state on arrival."""
    count = len(wearers["style"])
    per_wearer = 1 + rng.poisson(1.05 * years, count)
    wearer = np.repeat(np.arange(count), per_wearer)
    pairs = np.unique(wearer * len(days) + rng.integers(0, len(days), len(wearer)))
    wearer, day_index = pairs // len(days), pairs % len(days)
    visits = len(wearer)

    shares = np.array([0.62, 0.84, 1.0] if site.has_hard_mix else [0.78, 0.955, 1.0])
    reason = pick(shares[:-1], rng.random(visits))
    exposure = pick(EXPOSURE_SHARES[reason][:, :-1], rng.random(visits))
    is_wet = exposure <= SPLASH
    salt = site.share_salt
    kinds = np.cumsum([0.42 * (1 - salt), salt, 0.3 * (1 - salt), 0.2 * (1 - salt)])
    hours = np.round(np.clip(rng.lognormal(np.log(32.0), 1.1, visits), 1, 700))

    brings_both = wearers["is_bilateral"][wearer] & (
        rng.random(visits) < np.array([0.96, 0.6, 0.7])[reason]
    )
    lone_ear = np.where(
        wearers["is_bilateral"][wearer], rng.integers(0, 2, visits), wearers["only_ear"][wearer]
    )
    visit = np.concatenate([np.arange(visits), np.flatnonzero(brings_both)])
    ear = np.concatenate([np.where(brings_both, 0, lone_ear), np.ones(brings_both.sum(), int)])
    order = np.lexsort((ear, visit))
    visit, ear = visit[order], ear[order]

    # The two aids of a visit share part of their luck on arrival.
    shared = rng.normal(size=visits)[visit]
    luck = np.sqrt(0.35) * shared + np.sqrt(0.65) * rng.normal(size=len(visit))
    condition = pick(ARRIVAL_SHARES[reason[visit]], ndtr(luck))
    row_wearer = wearer[visit]
    return {
        "visit": visit,
        "ear": ear,
        "wearer": row_wearer,
        "aid": row_wearer * 2 + ear,
        "day": days[day_index][visit],
        "reason": reason[visit],
        "exposure": exposure[visit],
        "water": np.where(is_wet, pick(kinds, rng.random(visits)), -1)[visit],
        "hours": np.where(is_wet, hours, np.nan)[visit],
        "condition_before": condition,
        "cycle": np.ones(len(visit), int),
        "is_separate": (rng.random(visits) >= site.share_paired_loads)[visit],
    }


def _normal_share(value: np.ndarray) -> np.ndarray:

    return np.asarray(ndtr(value))


def clean(rng: np.random.Generator, rows: Rows) -> None:
    """Add `condition_cleaned`, the state after cell, parts and cleaning, and `part` changed."""
    before = rows["condition_before"]
    fixed = np.array([SHARE_FIXED_BY_CLEANING[c] for c in ("dead", "weak", "other_fault")] + [0.0])
    is_fixed = (rows["cycle"] == 1) & (rng.random(len(before)) < fixed[before])
    rows["condition_cleaned"] = np.where(is_fixed, NORMAL, before)
    part = rng.integers(1, 6, len(before))
    changes = is_fixed | (rng.random(len(before)) < np.where(before == NORMAL, 0.3, 0.4))
    rows["part"] = np.where(changes, part, 0)


def dry(
    site: Site,
    rng: np.random.Generator,
    rows: Rows,
    *,
    wearers: Rows,
    aid_effect: np.ndarray,
    start: np.datetime64,
) -> None:
    """Add `condition_after`: what the cycle does to each aid, by the planted log-odds.

    A working aid may be dead or weak afterwards, dried or only cleaned.
    """
    state = rows["condition_cleaned"]
    size = len(state)
    age = wearers["age_months"][rows["wearer"]] + (rows["day"] - start).astype(int) / 30.44
    rows["age_months"] = np.floor(age)
    base = np.array([RESCUE_BASE[c] for c in ("dead", "weak", "other_fault")] + [0.0])
    doubled = np.nan_to_num(np.log2(rows["hours"] / 24.0), nan=0.0)
    planted = (
        base[state]
        + site.rescue_log_odds
        + EFFECT_OF_DOUBLED_DELAY * doubled
        + EFFECT_OF_SALT_WATER * (rows["water"] == SALT)
        + EFFECT_OF_AGE_PER_YEAR * (age - 36.0) / 12.0
        + EFFECT_OF_REPEAT_CYCLE * (rows["cycle"] > 1)
    )
    rows["planted_log_odds"] = planted
    odds = planted + wearers["rescue"][rows["wearer"]] + aid_effect[rows["aid"]]
    is_rescued = rng.random(size) < 1.0 / (1.0 + np.exp(-odds))
    draw = rng.random(size)
    after = np.where(is_rescued, NORMAL, state)
    # A dead aid that sounds again is not always back to normal.
    dead_again = np.where(draw < 0.6, NORMAL, np.where(draw < 0.9, WEAK, OTHER_FAULT))
    after = np.where((state == DEAD) & is_rescued, dead_again, after)
    after = np.where((state == WEAK) & ~is_rescued & (draw < 0.02), DEAD, after)
    dies = np.where(rows["is_dried"], site.share_dead_after_drying, NORMAL_DEAD_AFTER)
    normal = np.where(draw < dies, DEAD, np.where(draw < dies + NORMAL_WEAK_AFTER, WEAK, NORMAL))
    # Whoever is only cleaned works: a comparison leaves no problem aid undried.
    rows["condition_after"] = np.where(state == NORMAL, normal, after)


def follow_ups(rng: np.random.Generator, rows: Rows, days: np.ndarray, next_visit: int) -> Rows:
    """Return one further row for each aid kept for another cycle some days later."""
    kept = np.flatnonzero(rows["is_kept"])
    index = np.searchsorted(days, rows["day"][kept]) + rng.integers(1, 6, len(kept))
    kept, index = kept[index < len(days)], index[index < len(days)]
    again = {name: values[kept].copy() for name, values in rows.items()}
    elapsed = (days[index] - again["day"]).astype(int)
    again["hours"] = again["hours"] + 24.0 * elapsed
    again["day"] = days[index]
    again["visit"] = next_visit + np.arange(len(kept))
    again["reason"] = np.full(len(kept), FOLLOW_UP)
    again["condition_before"] = again["condition_after"]
    again["cycle"] = again["cycle"] + 1
    again["is_separate"] = np.ones(len(kept), bool)
    return again


def keep_damp(rng: np.random.Generator, rows: Rows) -> None:
    """Add `is_kept`: an aid that failed a cycle and stays for another."""
    failed = rows["is_dried"] & (rows["condition_after"] != NORMAL)
    failed &= rows["condition_cleaned"] != NORMAL
    rows["is_kept"] = failed & (rng.random(len(failed)) < 0.4)


def comparison_weeks(rng: np.random.Generator, days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return week numbers and whether each is a week of cleaning only, random within pairs."""
    weeks = np.unique(week_of(days))
    first_of_pair = rng.integers(0, 2, len(weeks) // 2 + 1)
    position = np.arange(len(weeks))
    return weeks, (position % 2) == first_of_pair[position // 2]


def week_of(days: np.ndarray) -> np.ndarray:
    """Return a running number of the week, from Monday."""
    return (days.astype("datetime64[D]").astype(int) + 3) // 7


def choose_treatment(site: Site, rows: Rows, weeks: np.ndarray, is_cleaning: np.ndarray) -> None:
    """Add `is_dried`: all but whole visits of working, unexposed aids in a week of cleaning."""
    size = len(rows["visit"])
    if not site.has_comparison:
        rows["is_dried"] = np.ones(size, bool)
        return
    fits = (
        (rows["reason"] == CLEAN_AND_CHECK)
        & (rows["condition_before"] == NORMAL)
        & (rows["exposure"] == NONE_KNOWN)
    )
    in_week = is_cleaning[np.searchsorted(weeks, week_of(rows["day"]))]
    bad = np.bincount(rows["visit"], weights=~fits) > 0
    rows["is_dried"] = ~(in_week & ~bad[rows["visit"]])


def all_rows(
    site: Site, rng: np.random.Generator, wearers: Rows, days: np.ndarray, years: float
) -> Rows:
    """Return every session row of a site with its true course, sorted by day and visit."""
    aid_effect = rng.normal(0.0, np.sqrt(AID_VARIANCE), 2 * len(wearers["style"]))
    weeks, is_cleaning = comparison_weeks(rng, days)
    parts = [first_rows(site, rng, wearers, days, years)]
    for _ in range(3):
        rows = parts[-1]
        if len(parts) == 1:
            choose_treatment(site, rows, weeks, is_cleaning)
        clean(rng, rows)
        dry(site, rng, rows, wearers=wearers, aid_effect=aid_effect, start=days[0])
        keep_damp(rng, rows)
        if len(parts) == 3:
            rows["is_kept"][:] = False
            break
        parts.append(follow_ups(rng, rows, days, int(rows["visit"].max(initial=-1)) + 1))
    rows = {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}
    # An aid comes once a day; the earlier of two rows stays.
    seen = rows["aid"] * 100_000 + (rows["day"] - days[0]).astype(int)
    _, first = np.unique(seen, return_index=True)
    rows = {name: values[first] for name, values in rows.items()}
    order = np.lexsort((rows["ear"], rows["visit"], rows["day"]))
    return {name: values[order] for name, values in rows.items()}
