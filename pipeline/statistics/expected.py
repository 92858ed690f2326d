"""What the other sites' results lead one to expect of a site's own aids."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import qr
from scipy.sparse import csr_array
from scipy.special import expit

from pipeline.statistics.groups import Codes, Flags, summed
from pipeline.statistics.intervals import Floats
from pipeline.statistics.left_out import by_site, fits_without_each
from pipeline.statistics.newton import fit_grouped
from pipeline.statistics.overdispersion import dispersion_elsewhere

FEWEST_WITH_LEVEL = 1.5
SPANNED = 1e-10


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
    is_used = counts.is_reference[counts.site]
    shape = (sites, patterns)
    at = (counts.site, counts.pattern)
    own_n = by_site(np.where(is_used, counts.n, 0.0), at, shape)
    own_events = by_site(np.where(is_used, counts.events, 0.0), at, shape)
    n_all, events_all = own_n.sum(axis=0), own_events.sum(axis=0)
    n, observed = (summed(counts.site, values, sites) for values in (counts.n, counts.events))
    events = events_all.sum() - own_events.sum(axis=1)
    others = n_all.sum() - own_n.sum(axis=1) - events
    fits = _fits(design, n_all, events_all, own_n, own_events)
    is_fitted = (n > 0) & fits.is_fit
    chance = _chances(counts, fits.coefficients, is_first)
    chance[~is_fitted[counts.site]] = np.nan
    weight = counts.n * chance * (1 - chance)
    gradient = by_site(np.nan_to_num(weight), at, shape) @ design
    fit_variance = np.einsum("si,sij,sj->s", gradient, fits.covariance, gradient)
    every_n = by_site(counts.n, at, shape)
    unseen = _unseen(counts, (every_n @ every_level) * counts.is_reference[:, None])
    with np.errstate(invalid="ignore"):
        unseen_share = summed(counts.site, counts.n * unseen, sites) / n
    expected, variance = (
        summed(counts.site, values, sites) for values in (counts.n * chance, weight)
    )
    expected, variance, fit_variance, unseen_share = (
        np.where(is_fitted, values, np.nan)
        for values in (expected, variance, fit_variance, unseen_share)
    )
    return Expected(
        chance, n, observed, expected, variance, fit_variance, unseen_share,
        np.unique(counts.site[is_used]).size - counts.is_reference.astype(np.int64),
        np.where(is_fitted, fits.parameters, 0), events, others,
    )  # fmt: skip


@dataclass(frozen=True)
class _Fits:
    """Fits without each site: coefficients and covariance (0 for a column put with level 0)."""

    coefficients: Floats
    covariance: Floats
    parameters: Codes
    is_fit: Flags


def _fits(
    design: Floats, n_all: Floats, events_all: Floats, own_n: csr_array, own_events: csr_array
) -> _Fits:
    """Fit all sites but each: together where no column is separated, one by one elsewhere."""
    sites, k = own_n.shape[0], design.shape[1]
    found = _Fits(
        np.zeros((sites, k)), np.zeros((sites, k, k)), np.zeros(sites, dtype=np.int64),
        np.zeros(sites, dtype=bool),
    )  # fmt: skip
    if not 0 < events_all.sum() < n_all.sum():
        return found
    pooled = fit_grouped(design, n_all, events_all).coefficients
    held = n_all @ design - own_n @ design
    happened = events_all @ design - own_events @ design
    is_mixed = (happened[:, 0] > 0) & (happened[:, 0] < held[:, 0])
    is_separated = (happened <= 0) | (held - happened <= 0)
    alike = np.flatnonzero(is_mixed & ~is_separated.any(axis=1))
    together = fits_without_each(design, n_all, events_all, own_n[alike], own_events[alike], pooled)
    done = alike[together.is_fit]
    found.coefficients[done] = together.coefficients[together.is_fit]
    found.covariance[done] = together.covariance[together.is_fit]
    found.parameters[done], found.is_fit[done] = k, True
    for site in np.flatnonzero(is_mixed & ~found.is_fit):
        n = n_all - own_n[[site]].toarray()[0]
        events = events_all - own_events[[site]].toarray()[0]
        kept = np.union1d([0], np.flatnonzero(~is_separated[site]))
        fit = fit_grouped(design[:, kept], n, events, pooled[kept])
        found.coefficients[site, kept] = fit.coefficients
        found.covariance[np.ix_([site], kept, kept)] = fit.covariance
        found.parameters[site], found.is_fit[site] = fit.parameters, True
    return found


def _basis(design: Floats) -> Codes:
    """Return columns that span what all columns span, the constant first among them."""
    _, triangle, order = qr(design, mode="economic", pivoting=True)
    size = np.abs(np.diag(triangle))
    return np.asarray(np.sort(order[: int((size > SPANNED * size[0]).sum())]))


def _first(counts: Counts) -> Codes:
    """Return the place of each covariate's level 0 among the columns of every level."""
    return np.cumsum(np.r_[0, counts.levels.max(axis=0, initial=0) + 1])[:-1]


def _chances(counts: Counts, coefficients: Floats, is_first: Flags) -> Floats:
    """Return the fitted chance of each row."""
    of_level = np.zeros((counts.sites, is_first.size))
    of_level[:, ~is_first] = coefficients[:, 1:]
    odds = coefficients[counts.site, 0]
    for covariate, first in enumerate(_first(counts)):
        odds = odds + of_level[counts.site, first + counts.levels[counts.pattern, covariate]]
    return np.asarray(expit(odds))


def _unseen(counts: Counts, held: Floats) -> Flags:
    """Tell for each row whether it has a level that is not seen at the other sites.

    Args:
        counts: aids by site and pattern.
        held: aids of each reference site (row) with each level (column).
    """
    others = held.sum(axis=0) - held
    squares = (held**2).sum(axis=0) - held**2
    is_thin = (others**2 < FEWEST_WITH_LEVEL * squares) | (others <= 0)
    unseen = np.zeros(counts.n.size, dtype=bool)
    for covariate, first in enumerate(_first(counts)):
        unseen |= is_thin[counts.site, first + counts.levels[counts.pattern, covariate]]
    return unseen


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
