"""Draw a world as the rows that clinics would export."""

from dataclasses import dataclass, fields
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from tests.truth.worlds import World

WEEKS = 40
FIRST_MONDAY = datetime(2025, 9, 15)
LAST_CHECK = datetime(2026, 6, 29)
SEED = 20_270
AIDS_PER_VISIT = 1.8
EAR_CORRELATION = 0.5
# Within-aid deviation: gain, OSPL90 (dB), distortion (log).
NOISE = np.array([1.0, 0.9, 0.2])
CHANGE = np.array([8.0, 8.0, 0.0])
STYLES = ("bte", "ric", "ite")
RESCUE_RATE = {"dead": 0.6, "weak": 0.53}
WORSE_LOG_ODDS = -1.5
FIXED_BY_CLEANING = 0.35
DOSES_UL = np.array([2.0, 5.0, 10.0, 20.0])
STOPS_AT_BAD, WORSE_AT_BAD, BLANK_AT_BAD = 0.04, 0.05, 0.15


@dataclass(frozen=True)
class Rows:
    """What the clinics export: sessions, repeats and dose checks, in canonical columns."""

    sessions: pl.DataFrame
    repeats: pl.DataFrame
    checks: pl.DataFrame
    roles: dict[str, str]


def draw(world: World, seed: int) -> Rows:
    """Draw one world; the same seed gives the same rows."""
    marks = [hash_of(getattr(world, field.name)) for field in fields(world)]
    rng = np.random.default_rng([SEED, seed, *marks])
    boxes = np.exp(world.box_spread * rng.normal(size=world.sites))
    parts = [_working(world, rng, boxes)] if world.per_arm else []
    parts += [_problems(world, rng, state) for state in ("dead", "weak") if getattr(world, state)]
    if not parts:
        parts = [_visits(world, rng)]
    sessions = pl.concat(parts, how="diagonal_relaxed").sort("site", "started_at")
    repeats = _repeats(world, rng, boxes) if world.per_arm else pl.DataFrame()
    checks, roles = _checks(world, rng)
    return Rows(_named(sessions), repeats, checks, roles)


def hash_of(value: object) -> int:
    """Return a number that stands for a field's value, the same in every run."""
    return sum(ord(c) * 31**at for at, c in enumerate(str(value))) % 1_000_003


def site_id(number: int) -> str:
    """Return the clinic's id, `site-01` upward."""
    return f"site-{number + 1:02d}"


def _alike(rng: np.random.Generator, pair: np.ndarray, share: np.ndarray | float) -> np.ndarray:
    """Draw who is concerned; with chance EAR_CORRELATION both ears share their luck."""
    visits = int(pair.max(initial=-1)) + 1
    shares = (rng.random(visits) < EAR_CORRELATION)[pair]
    luck = np.where(shares, rng.random(visits)[pair], rng.random(pair.size))
    return np.asarray(luck < share)


def _moments(rng: np.random.Generator, week: np.ndarray, pair: np.ndarray) -> pl.Series:
    visits = int(pair.max(initial=-1)) + 1
    day = rng.integers(0, 5, visits)[pair] + 7 * week
    minute = 480 + rng.integers(0, 570, visits)[pair]
    return _since(day * 1440 + minute)


def _since(minute: np.ndarray) -> pl.Series:
    """Return the moments so many minutes after the first Monday's midnight."""
    return pl.Series((np.datetime64(FIRST_MONDAY, "m") + minute).astype("datetime64[us]"))


def _paired(
    rng: np.random.Generator, site: np.ndarray, week: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Give visits their aids: site, week, visit, wearer and ear by aid."""
    visits = site.size
    pair = np.repeat(np.arange(visits), rng.choice([1, 2], visits, p=[0.2, 0.8]))
    wearer = (site * 100_000 + rng.integers(0, max(1, int(visits * 0.8)), visits))[pair]
    second = np.r_[False, pair[1:] == pair[:-1]]
    ear = np.where(second, 1, 0)
    return site[pair], week[pair], pair, wearer, ear


def _working(world: World, rng: np.random.Generator, boxes: np.ndarray) -> pl.DataFrame:
    per_week = 2 * world.per_arm / (world.sites * WEEKS * AIDS_PER_VISIT)
    visits_of = rng.poisson(per_week, (world.sites, WEEKS))
    site = np.repeat(np.arange(world.sites), visits_of.sum(axis=1))
    week = np.concatenate([np.repeat(np.arange(WEEKS), own) for own in visits_of])
    first = rng.integers(0, 2, (world.sites, WEEKS // 2))
    site, week, pair, wearer, ear = _paired(rng, site, week)
    arm = (week % 2) == first[site, week // 2]
    size = site.size
    is_bad = (site == 0) & arm
    dies = world.stopped + np.where(is_bad & (world.bad == "stopped"), STOPS_AT_BAD, 0.0)
    stopped = _alike(rng, pair, world.background) | (_alike(rng, pair, dies) & arm)
    better = _alike(rng, pair, world.benefit) & arm
    worse = _alike(rng, pair, np.where(is_bad & (world.bad == "worsened"), WORSE_AT_BAD, 0.0))
    drift = rng.normal(0, world.drift_db, (world.sites, WEEKS, 2))[site, week]
    scale = boxes[site][:, None] * NOISE
    level = np.stack([rng.normal(40, 3, size), rng.normal(112, 3, size), np.full(size, 0.7)], 1)
    noise = rng.normal(size=(2, size, 3))
    before = level + scale * noise[0]
    after = level + scale * noise[1] + (better.astype(int) - worse)[:, None] * CHANGE
    after[:, :2] += drift
    # A copying site writes the first measurement down twice.
    copied = (site == 0) & (rng.random(size) < world.copies)
    after = np.where(copied[:, None], before, after)
    blank_share = np.where(stopped, world.blank_stopped, world.blank_other)
    blank_share = np.where(is_bad & (world.bad == "not_assessed"), BLANK_AT_BAD, blank_share)
    blank = rng.random(size) < blank_share
    seen = ~blank & ~stopped
    values = {}
    for at, (name, unit) in enumerate((("hfa_gain", "db"), ("hfa_ospl90", "db_spl"),
                                       ("thd", "pct"))):  # fmt: skip
        for moment, given, is_there in (("before", before, np.ones(size, bool)),
                                        ("after", after, seen)):  # fmt: skip
            value = np.exp(given[:, at]) if name == "thd" else given[:, at]
            values[f"{name}_{moment}_{unit}"] = pl.Series(
                np.where(is_there, np.round(value, 2), np.nan)
            ).fill_nan(None)
    return _frame(
        rng, site, week, pair, wearer, ear,
        treatment=np.where(arm, "dried", "cleaned_only"), visit_reason="clean_and_check",
        condition_before="normal", condition_after_cleaning="normal",
        condition_after=np.where(blank, "", np.where(stopped, "dead", "normal")),
        test_box_id="box", measured_settings="reference_test",
        before_measured_when="after_cleaning", **values,
    )  # fmt: skip


def _problems(world: World, rng: np.random.Generator, state: str) -> pl.DataFrame:
    """Dead or weak aids of each site, dried once; cleaning alone mends some."""
    per_site = rng.poisson(getattr(world, state) / AIDS_PER_VISIT, world.sites)
    site = np.repeat(np.arange(world.sites), per_site)
    week = rng.integers(0, WEEKS, site.size)
    site, week, pair, wearer, ear = _paired(rng, site, week)
    size = site.size
    odds = np.log(RESCUE_RATE[state] / (1 - RESCUE_RATE[state]))
    odds = odds + np.where((site == 0) & (world.bad == state), WORSE_LOG_ODDS, 0.0)
    rescued = _alike(rng, pair, 1 / (1 + np.exp(-odds)))
    is_unordered = site >= world.sites - world.unordered
    fixed = is_unordered & (rng.random(size) < FIXED_BY_CLEANING)
    after = np.where(rescued | fixed, "normal", state)
    copied = (site == 0) & (rng.random(size) < world.copies)
    after = np.where(copied, state, after)
    blank_share = np.where((site == 0) & (world.bad == "not_assessed"), BLANK_AT_BAD,
                           world.blank_other)  # fmt: skip
    after = np.where(rng.random(size) < blank_share, "", after)
    return _frame(
        rng, site, week, pair, wearer + 50_000, ear, treatment="dried",
        visit_reason="problem_reported", condition_before=state,
        condition_after_cleaning=np.where(is_unordered, "", state), condition_after=after,
    )  # fmt: skip


def _visits(world: World, rng: np.random.Generator) -> pl.DataFrame:
    """One working aid a week and site: nothing but the use of the chamber."""
    site, week = np.repeat(np.arange(world.sites), WEEKS), np.tile(np.arange(WEEKS), world.sites)
    pair = np.arange(site.size)
    return _frame(
        rng, site, week, pair, site * 100_000 + pair, np.zeros(site.size, int), treatment="dried",
        visit_reason="clean_and_check", condition_before="normal",
        condition_after_cleaning="normal", condition_after="normal",
    )  # fmt: skip


def _frame(
    rng: np.random.Generator, site: np.ndarray, week: np.ndarray, pair: np.ndarray,
    wearer: np.ndarray, ear: np.ndarray, **columns: object,
) -> pl.DataFrame:  # fmt: skip
    size = site.size
    style = rng.integers(0, len(STYLES), int(pair.max(initial=-1)) + 1)[pair]
    given = {
        name: value if isinstance(value, pl.Series) else pl.Series(np.broadcast_to(value, size))
        for name, value in columns.items()
    }
    frame = pl.DataFrame({
        "site": site, "started_at": _moments(rng, week, pair), "wearer": wearer,
        "device": wearer * 2 + ear, "ear": pl.Series(np.array(["left", "right"])[ear]),
        "device_style": pl.Series(np.array(STYLES)[style]), **given,
    })  # fmt: skip
    words = [name for name, kind in frame.schema.items() if kind == pl.String]
    return frame.with_columns(
        pl.when(pl.col(name) != "").then(pl.col(name)).alias(name) for name in words
    )


def _named(frame: pl.DataFrame) -> pl.DataFrame:
    """Give rows the ids and constants of an export."""
    dried = pl.col("treatment") == "dried"
    site = pl.format("site-{}", (pl.col("site") + 1).cast(pl.String).str.zfill(2))
    made = frame.with_row_index("row").with_columns(
        site.alias("site_id"), pl.format("S{}", "row").alias("session_id"),
        pl.format("A{}", "device").alias("device_id"),
        pl.format("W{}", "wearer").alias("patient_id"),
        pl.when(dried).then(pl.format("D{}-1", pl.col("site") + 1)).alias("dryer_id"),
        pl.lit("zinc_air").alias("power_source"), pl.lit("none_known").alias("exposure"),
        pl.lit("returned_to_wearer").alias("disposition"),
        # One aid at a time: sessions of a visit follow each other.
        pl.col("started_at") + pl.duration(seconds=pl.col("row") % 60),
    )  # fmt: skip
    if "test_box_id" in made.columns:
        box = pl.format("box-{}", pl.col("site") + 1)
        made = made.with_columns(pl.when(pl.col("test_box_id").is_not_null()).then(box)
                                 .alias("test_box_id"))  # fmt: skip
    return made.drop("row", "site", "wearer", "device")


def _repeats(world: World, rng: np.random.Generator, boxes: np.ndarray) -> pl.DataFrame:
    site = np.repeat(np.arange(world.sites), world.pairs)
    size = site.size
    own = np.stack([rng.normal(40, 3, size), rng.normal(112, 3, size), np.full(size, 0.7)], 1)
    noise = rng.normal(size=(2, size, 3)) * boxes[site][:, None] * NOISE
    minute = (np.arange(size) % world.pairs) * 1440 * 2 + 480
    columns: dict[str, object] = {
        "site_id": [site_id(int(s)) for s in site],
        "device_id": [f"R{at}" for at in range(size)],
        "measured_at": _since(minute),
        "test_box_id": [f"box-{s + 1}" for s in site],
    }  # fmt: skip
    for turn, draw_ in (("first", noise[0]), ("second", noise[1])):
        value = own + draw_
        columns |= {
            f"{turn}_hfa_gain_db": np.round(value[:, 0], 2),
            f"{turn}_hfa_ospl90_db_spl": np.round(value[:, 1], 2),
            f"{turn}_thd_pct": np.round(np.exp(value[:, 2]), 2),
        }
    return pl.DataFrame(columns)


def _checks(world: World, rng: np.random.Generator) -> tuple[pl.DataFrame, dict[str, str]]:
    """A dose a fortnight for each chamber over a year; `roles` tells what each is."""
    frames, roles = [], {}
    moments = [LAST_CHECK + timedelta(days=-14 * back, hours=8) for back in range(25, -1, -1)]
    years = np.array([(moment - moments[0]).days / 365.25 for moment in moments])
    for at, role in enumerate(world.chambers):
        site = at % world.sites
        dryer = f"D{site + 1}-{at // world.sites + 1}"
        roles[f"{site_id(site)} {dryer}"] = role
        dose = DOSES_UL[(np.arange(len(moments)) + at) % DOSES_UL.size]
        spread = 0.22 if role == "s" else 0.03
        slope = 0.75 if role == "l" else 1.0
        if role == "d":
            slope = 1 - 0.30 * years
        factor = slope * (1 + spread * rng.normal(size=dose.size))
        if role == "b":
            factor[-1] = 0.8
        reading = np.round(np.clip(dose * factor + 0.03 * rng.normal(size=dose.size), 0, None), 2)
        frames.append(
            pl.DataFrame({
                "site_id": [site_id(site)] * dose.size, "dryer_id": [dryer] * dose.size,
                "checked_at": pl.Series(moments).cast(pl.Datetime("us")), "dose_ul": dose,
                "reading_ul": reading,
            })
        )  # fmt: skip
    return (pl.concat(frames) if frames else pl.DataFrame()), roles


def chambers_of(world: World) -> list[tuple[str, str]]:
    """Return (site_id, dryer_id) of every chamber of a world."""
    own = [(site_id(at % world.sites), f"D{at % world.sites + 1}-{at // world.sites + 1}")
           for at in range(len(world.chambers))]  # fmt: skip
    first = [(site_id(site), f"D{site + 1}-1") for site in range(world.sites)]
    return sorted(set(own) | set(first))
