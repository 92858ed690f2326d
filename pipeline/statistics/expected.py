"""What the other sites' results lead one to expect of a site's own aids."""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from pipeline.statistics.groups import Codes, Flags, summed
from pipeline.statistics.intervals import Floats
from pipeline.statistics.newton import fit_grouped, separated
from pipeline.statistics.overdispersion import dispersion_elsewhere

FEWEST_WITH_LEVEL = 1.5


@dataclass(frozen=True)
class Counts:
    """Aids and events by site and pattern.

    Fields: levels (patterns by covariates: level numbers from 0, where 0 is the level that others
    are set against), site, pattern (numbers, one a row, no pair twice), n (1 or more), events
    (0 to n), sites (how many there are), is_reference (by site: others are held against it).
    """

    levels: Codes
    site: Codes
    pattern: Codes
    n: Floats
    events: Floats
    sites: int
    is_reference: Flags


@dataclass(frozen=True)
class Alike:
    """Clusters (wearers, or chambers) that have the same counts, one row per kind and pattern.

    Fields: kind (number from 0; all its rows have one site), row (the row of `Counts` that the
    pattern stands in), n, events (of one such cluster), clusters (how many are of the kind).
    """

    kind: Codes
    row: Codes
    n: Floats
    events: Floats
    clusters: Floats


@dataclass(frozen=True)
class Expected:
    """Expected events, by site unless said otherwise.

    Fields: chance (by row of the counts, 0-1), n, observed, expected (Σ n·p), variance
    (Σ n·p(1-p)), fit_variance (of `expected`, from the fit to the other sites), unseen_share
    (aids with a level that is not seen elsewhere), other_sites, parameters, events_elsewhere,
    others_elsewhere (aids without the event). Nan where the others have no event, or nothing
    else.
    """

    chance: Floats
    n: Floats
    observed: Floats
    expected: Floats
    variance: Floats
    fit_variance: Floats
    unseen_share: Floats
    other_sites: Codes
    parameters: Codes
    events_elsewhere: Floats
    others_elsewhere: Floats


def indicators(levels: Codes) -> tuple[Floats, Flags]:
    """Return a 0/1 column for each level of each covariate, and which of them are levels 0."""
    columns, first = [], []
    for at in range(levels.shape[1]):
        for level in range(int(levels[:, at].max(initial=0)) + 1):
            columns.append((levels[:, at] == level).astype(float))
            first.append(level == 0)
    if not columns:
        return np.empty((levels.shape[0], 0)), np.empty(0, dtype=bool)
    return np.column_stack(columns), np.array(first)


def expected_elsewhere(counts: Counts) -> Expected:
    """Return each site's expected events from a logistic fit to the other sites.

    Main effects of the covariates; a site never predicts itself. A level that holds no event, or
    nothing else, among the other sites is put with level 0 in that fit. The variance of the sum
    of predictions is g'Σg, with g = Σ n·p(1-p)·x (delta method).

    A level is seen elsewhere when the other sites' aids that have it do not stand at one site
    nearly all: they are spread as over 1.5 equal sites or more ((Σm)²/Σm² for m aids a site).
    What a level does at one site cannot be told from that site's own work.

    Source: indirect standardisation with the site left out; delta method as in Spiegelhalter et
    al. 2012, J R Stat Soc A 175:1-47, appendix.
    """
    patterns, sites = counts.levels.shape[0], counts.sites
    every_level, is_first = indicators(counts.levels)
    design = np.column_stack([np.ones(patterns), every_level[:, ~is_first]])
    used = counts.is_reference[counts.site]
    n_all = summed(counts.pattern[used], counts.n[used], patterns)
    events_all = summed(counts.pattern[used], counts.events[used], patterns)
    observed = summed(counts.site, counts.events, sites)
    out = {
        name: np.full(sites, np.nan)
        for name in ("expected", "variance", "fit_variance", "unseen", "events", "others")
    }
    chance = np.full(counts.n.size, np.nan)
    parameters = np.zeros(sites, dtype=np.int64)
    other_sites = np.unique(counts.site[used]).size - counts.is_reference.astype(np.int64)
    held = _aids_with_level(counts, every_level) * counts.is_reference[:, None]
    held_all, squares_all = held.sum(axis=0), (held**2).sum(axis=0)
    pooled = None
    if 0 < events_all.sum() < n_all.sum():
        pooled = fit_grouped(design, n_all, events_all).coefficients
    for site, rows in enumerate(_rows_by_site(counts)):
        own = counts.pattern[rows]
        n, events = n_all.copy(), events_all.copy()
        if counts.is_reference[site]:
            n[own] -= counts.n[rows]
            events[own] -= counts.events[rows]
        out["events"][site], out["others"][site] = events.sum(), n.sum() - events.sum()
        is_mixed = 0 < events.sum() < n.sum()
        if rows.size == 0 or pooled is None or not is_mixed:
            continue
        kept = np.flatnonzero(~separated(design, n, events))
        kept = np.union1d([0], kept)
        fit = fit_grouped(design[:, kept], n, events, pooled[kept])
        at = design[np.ix_(own, kept)]
        chance[rows] = expit(at @ fit.coefficients)
        weight = counts.n[rows] * chance[rows] * (1 - chance[rows])
        gradient = at.T @ weight
        others = held_all - held[site]
        is_thin = others**2 < FEWEST_WITH_LEVEL * (squares_all - held[site] ** 2)
        is_thin |= others <= 0
        is_unseen = every_level[own] @ is_thin > 0
        parameters[site] = fit.parameters
        out["expected"][site] = counts.n[rows] @ chance[rows]
        out["variance"][site] = weight.sum()
        out["fit_variance"][site] = gradient @ fit.covariance @ gradient
        out["unseen"][site] = counts.n[rows] @ is_unseen / counts.n[rows].sum()
    return Expected(
        chance, summed(counts.site, counts.n, sites), observed, out["expected"],
        out["variance"], out["fit_variance"], out["unseen"], other_sites, parameters,
        out["events"], out["others"],
    )  # fmt: skip


def cluster_dispersion(counts: Counts, alike: Alike, chance: Floats) -> Floats:
    """Return by site D = max(1, Σ over clusters of (Σ residuals)² / Σ n·p(1-p)) of other sites.

    Sites that are no reference tell nothing; see `dispersion_elsewhere`.
    """
    own = chance[alike.row]
    used = counts.is_reference[counts.site[alike.row]] & ~np.isnan(own)
    residual = np.where(used, alike.events - alike.n * own, 0.0)
    variance = np.where(used, alike.clusters * alike.n * own * (1 - own), 0.0)
    kinds = int(alike.kind.max(initial=-1)) + 1
    clusters, site = np.zeros(kinds), np.zeros(kinds, dtype=np.int64)
    clusters[alike.kind], site[alike.kind] = alike.clusters, counts.site[alike.row]
    squares = summed(site, clusters * summed(alike.kind, residual, kinds) ** 2, counts.sites)
    spread = summed(counts.site[alike.row], variance, counts.sites)
    return dispersion_elsewhere(squares, spread)


def _aids_with_level(counts: Counts, every_level: Floats) -> Floats:
    """Return the aids of each site (row) with each level (column)."""
    return summed(counts.site, counts.n[:, None] * every_level[counts.pattern], counts.sites)


def _rows_by_site(counts: Counts) -> list[Codes]:
    order = np.argsort(counts.site, kind="stable")
    edges = np.searchsorted(counts.site[order], np.arange(1, counts.sites))
    return np.split(order, edges)
