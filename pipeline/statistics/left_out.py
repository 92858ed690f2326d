"""Logistic fits to the aids of all sites but one, for every site at once."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.special import expit

from pipeline.statistics.groups import Codes, Flags
from pipeline.statistics.intervals import Floats
from pipeline.statistics.newton import inverses

MOST_STEPS = 60
AT_REST = 1e-12
# Sites and patterns taken at once: arrays of a few megabytes, however many there are.
MOST_AT_ONCE = 500_000
PATTERNS_AT_ONCE = 4096


@dataclass(frozen=True)
class LeftOut:
    """Fits that each leave out one site; every field has one element a site.

    Fields: coefficients (sites, k), covariance (sites, k, k), is_fit. Where a fit did not come to
    rest, or its columns do not determine every coefficient, `is_fit` is False and the rest is not
    to be read.
    """

    coefficients: Floats
    covariance: Floats
    is_fit: Flags


def fits_without_each(
    design: Floats, n: Floats, events: Floats, own_n: csr_array, own_events: csr_array,
    pooled: Floats,
) -> LeftOut:  # fmt: skip
    """Fit log odds = design @ coefficients to all observations but those of each site.

    Simplified Newton steps from the pooled fit: the pooled curvature, less a site's share of the
    observations, is near enough to that of all the others for each step to gain two digits among
    100 sites. A fit that does not come to rest so, as with few sites of very different aids, is
    left to a full Newton method.

    Args:
        design: (patterns, k), the first column 1.
        n, events: of each pattern, all sites together.
        own_n, own_events: (sites, patterns), what each fit leaves out; empty for none.
        pooled: coefficients of the fit to all of them.

    Returns:
        Coefficients that maximise each likelihood to 1e-11, and the inverse information there.

    Source: McCullagh and Nelder 1989, Generalized Linear Models, chapter 4; the steps by a held
    curvature are the simplified Newton method of Deuflhard 2011, Newton Methods, section 2.1.
    """
    sites, k = own_n.shape[0], design.shape[1]
    out = LeftOut(
        np.full((sites, k), np.nan), np.full((sites, k, k), np.nan), np.zeros(sites, dtype=bool)
    )
    chance = expit(design @ pooled)
    curvature = _information(design, (n * chance * (1 - chance))[None])
    (inverse,), is_whole = inverses(curvature)
    if not is_whole.all():
        return out
    left = 1 - np.asarray(own_n.sum(axis=1)) / n.sum()
    step = max(1, MOST_AT_ONCE // design.shape[0])
    for start in range(0, sites, step):
        at = slice(start, min(start + step, sites))
        rest_n, rest_events = n - own_n[at].toarray(), events - own_events[at].toarray()
        held = inverse / left[at, None, None]
        beta = np.broadcast_to(pooled, (rest_n.shape[0], k))
        is_still = np.zeros(rest_n.shape[0], dtype=bool)
        for _ in range(MOST_STEPS):
            fitted = expit(beta @ design.T)
            more = (held @ ((rest_events - rest_n * fitted) @ design)[..., None])[..., 0]
            is_still = np.abs(more).max(axis=1) < AT_REST * (1 + np.abs(beta).max(axis=1))
            if is_still.all():
                break
            beta = beta + more
        covariance, is_determined = inverses(_information(design, rest_n * fitted * (1 - fitted)))
        out.coefficients[at], out.covariance[at] = beta, covariance
        out.is_fit[at] = is_still & is_determined
    return out


def _information(design: Floats, weights: Floats) -> Floats:
    """Return design' diag(w) design for each row w of the weights (tables, patterns).

    As a product with the distinct products of two columns: one large multiplication of matrices.
    """
    k = design.shape[1]
    row, column = np.triu_indices(k)
    total = np.zeros((weights.shape[0], row.size))
    for part in _parts(design.shape[0]):
        total += weights[:, part] @ (design[part][:, row] * design[part][:, column])
    out = np.empty((weights.shape[0], k, k))
    out[:, row, column] = out[:, column, row] = total
    return out


def _parts(patterns: int) -> Iterator[slice]:
    for start in range(0, patterns, PATTERNS_AT_ONCE):
        yield slice(start, min(start + PATTERNS_AT_ONCE, patterns))


def by_site(values: Floats, at: tuple[Codes, Codes], shape: tuple[int, int]) -> csr_array:
    """Return values as a sparse array (sites, patterns), each at its site and pattern."""
    return csr_array((values, at), shape=shape)
