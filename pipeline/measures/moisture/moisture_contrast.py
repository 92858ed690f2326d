"""Which groups of loads read higher or lower than the others, with readings below detection."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.disclosure import contrasts
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.clustered_ranks import cliffs_delta, score_test
from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.groups import Codes, Flags, numbered
from pipeline.statistics.intervals import Floats
from pipeline.statistics.left_censored import cumulative, shares_at
from schemas.measures.moisture_contrast import MoistureContrast

GROUPINGS = (
    "season", "climate_group", "device_style", "exposure", "visit_reason", "days_since_dry_band",
    "home_dryer",
)  # fmt: skip
# Set against the loads of the reference alone, the reference against all others; loads of the
# words that say nothing take no part.
REFERENCE = {"home_dryer": "none"}
SAYS_NOTHING = {"home_dryer": "unknown"}
# Does not vary within a site, so that the sample is the number of sites.
BY_SITE = "climate_group"
FEWEST_WEARERS = 10
FEWEST_SITES = 5
MOST_BELOW = 0.8
MOST_ABOVE_LIMIT = 0.01


@dataclass(frozen=True)
class Loads:
    """Loads of equal wearer, site, reading and words; every array has one element for each.

    Fields: n (loads), score (Peto and Peto's), rank (order, equal up to the highest limit),
    is_low (at or under that limit), wearer, site (numbers from 0), highest_limit_ul.
    """

    n: Floats
    score: Floats
    rank: Codes
    is_low: Flags
    wearer: Codes
    site: Codes
    highest_limit_ul: float

    def where(self, rows: Flags) -> "Loads":
        """Return some of the rows, clusters numbered anew."""
        return Loads(
            self.n[rows], self.score[rows], self.rank[rows], self.is_low[rows],
            numbered(self.wearer[rows]), numbered(self.site[rows]), self.highest_limit_ul,
        )  # fmt: skip


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Set each group against all others of its grouping, a dryer at home against none.

    All contrasts are one family of tests.

    Args:
        counts: `moisture_contrast`, loads by wearer, site, reading and words, and `moisture_word`,
            the words by their places.
        settings: the confidence level.

    Returns:
        The table moisture_contrast.

    Source: Helsel 2012, Statistics for Censored Environmental Data, the score test on the
    reversed scale.
    """
    frame, word = counts["moisture_contrast"], counts["moisture_word"]
    if frame.is_empty():
        return no_rows(MoistureContrast)
    loads = _loads(frame.rename({"value_ul": "value"}))
    found = []
    for grouping in GROUPINGS:
        names = word[grouping].to_list()[0] or []
        place = frame[grouping].fill_null(0).to_numpy().astype(np.int64)
        at = {name: number for number, name in enumerate(names, start=1)}
        known = (place > 0) & (place != at.get(SAYS_NOTHING.get(grouping, ""), 0))
        reference = at.get(REFERENCE.get(grouping, ""), 0)
        for group in np.unique(place[known]).tolist():
            taken = known & ((place == group) | (place == reference) | (group == reference)
                             | (reference == 0))  # fmt: skip
            found.append(
                {"grouping": grouping, "group_1": names[group - 1],
                 "against": names[reference - 1] if reference not in {0, group} else None}
                | against_others(
                    loads.where(taken), place[taken] == group, grouping == BY_SITE, settings
                )
            )  # fmt: skip
    p_values = np.array([row["p_value"] for row in found], dtype=float)
    rows = [
        row | {"p_adjusted": p, "verdict": _verdict(p, row["peto_peto_z"])}
        for row, p in zip(found, adjusted_p_values(p_values), strict=True)
    ]
    types = {name: spec.dtype.type for name, spec in MoistureContrast.to_schema().columns.items()}
    return as_table(pl.DataFrame(rows, schema=types), MoistureContrast)


def against_others(
    loads: Loads, is_member: Flags, is_by_site: bool, settings: Settings
) -> dict[str, float | int | str | None]:
    """Return a group's columns; the others are those of the sites that have the group as well.

    A season of the tropics is so set against the tropics' other season, and not against sites
    elsewhere. A group that does not vary within a site is set against all other sites.

    Args:
        loads: all loads whose group is known.
        is_member: whether each belongs to the group.
        is_by_site: whether the group is the same for all loads of a site.
        settings: the confidence level.
    """
    if not is_by_site:
        has_group = np.bincount(loads.site, is_member) > 0
        shared = has_group[loads.site]
        loads, is_member = loads.where(shared), is_member[shared]
    sides = (is_member, ~is_member)
    n, low = ([float(x[side].sum()) for side in sides] for x in (loads.n, loads.n * loads.is_low))
    wearers, sites = (
        [int(np.count_nonzero(np.bincount(x[side]))) for side in sides]
        for x in (loads.wearer, loads.site)
    )
    shares = [k / total if total else np.nan for k, total in zip(low, n, strict=True)]
    cluster = loads.site if is_by_site else loads.wearer
    untested_because = None
    if min(wearers) < FEWEST_WEARERS:
        untested_because = "too_few_wearers"
    elif is_by_site and min(sites) < FEWEST_SITES:
        untested_because = "too_few_sites"
    elif min(shares) > MOST_BELOW:
        untested_because = "below_detection"
    delta, delta_low, delta_high = cliffs_delta(
        loads.rank, loads.n, is_member, cluster, settings.confidence_level
    )
    _, z, p_value = score_test(loads.score, loads.n, is_member, cluster)
    is_given = untested_because is None
    return {
        "cluster_kind": "site" if is_by_site else "wearer",
        "n": int(n[0]), "other_n": int(n[1]),
        "wearers": wearers[0], "other_wearers": wearers[1],
        "sites": sites[0], "other_sites": sites[1],
        "highest_limit_ul": loads.highest_limit_ul,
        "share_at_most_limit": shares[0], "other_share_at_most_limit": shares[1],
        "cliffs_delta": delta if untested_because != "too_few_wearers" else None,
        "delta_low": delta_low if is_given else None,
        "delta_high": delta_high if is_given else None,
        "peto_peto_z": z if is_given else None,
        "p_value": p_value if is_given else np.nan,
        "untested_because": untested_because,
    }  # fmt: skip


def _verdict(p_adjusted: float, z: float | None) -> str:
    if z is None or np.isnan(p_adjusted):
        return "cannot_tell"
    if p_adjusted > 0.05:
        return "not_apart"
    return "higher" if z > 0 else "lower"


def _loads(frame: pl.DataFrame) -> Loads:
    limit = highest_limit(frame)
    is_low = (pl.col("value") <= limit) | pl.col("below")
    ordered = frame.with_columns(
        is_low.alias("is_low"),
        pl.when(is_low).then(0).otherwise(pl.col("value").rank("dense")).alias("rank"),
    )
    return Loads(
        n=frame["loads"].to_numpy().astype(float),
        score=peto_peto_scores(frame),
        rank=ordered["rank"].rank("dense").to_numpy().astype(np.int64) - 1,
        is_low=ordered["is_low"].to_numpy(),
        wearer=numbered(frame["wearer"].to_numpy()),
        site=numbered(frame["site_id"].to_numpy()),
        highest_limit_ul=limit,
    )


def highest_limit(frame: pl.DataFrame) -> float:
    """Return the least limit above which at most a hundredth of the loads is below detection.

    Args:
        frame: value, below (the value is a limit), loads.

    Returns:
        The limit, in the unit of the values; 0 where nothing is below detection.
    """
    limits = (
        frame.filter("below")
        .group_by("value")
        .agg(pl.col("loads").sum())
        .sort("value", descending=True)
    )
    higher = limits["loads"].cum_sum().to_numpy()
    wanted = higher > MOST_ABOVE_LIMIT * frame["loads"].to_numpy().sum()
    return float(limits["value"].to_numpy()[wanted].max(initial=0))


def peto_peto_scores(frame: pl.DataFrame) -> Floats:
    """Return Peto and Peto's score of each row on the reversed scale; their weighted sum is 0.

    A detected reading scores F(x) + F(x-) - 1, one below a limit L scores F(L-) - 1, with F the
    reverse Kaplan-Meier curve of all rows: the higher the reading, the higher the score.

    Args:
        frame: value, below (the value is a limit that the reading is under or at), loads.
    """
    pooled = frame.select("value", "below", "loads", pl.lit(0).alias("all"))
    curve, value = cumulative(pooled, ["all"]), frame["value"].to_numpy()
    under = shares_at(curve, value, is_value_in=False)
    return np.asarray(np.where(frame["below"], under, shares_at(curve, value) + under) - 1)


MOISTURE_CONTRAST = Measure(
    schema=MoistureContrast,
    queries=("moisture_contrast", "moisture_word"),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(contrasts.contrasts),
    method="moisture-contrasts",
    label="Loads against other loads",
    group_wide=("moisture_word",),
    views=("moisture_reading",),
    temporary=("moisture_load",),
)
