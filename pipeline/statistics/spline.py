"""Natural cubic splines as columns of a model."""

import numpy as np

from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import interpolate


def natural_spline(x: Floats, knots: Floats) -> Floats:
    """Return the columns that span the natural cubic splines with these knots, (rows, knots).

    Column j is the spline that is 1 at knot j and 0 at the others; the columns sum to 1. Two knots
    give a straight line.

    Args:
        x: values between the outer knots; beyond them the outer cubics run on.
        knots: two or more, ascending.
    """
    spline = interpolate.CubicSpline(knots, np.eye(knots.size), bc_type="natural")
    return np.asarray(spline(x), dtype=float)


def spline_basis(x: Floats, knots: Floats) -> Floats:
    """Return the natural cubic spline's basis without its constant, (rows, knots - 1).

    With an intercept they span what `natural_spline` spans.
    """
    return natural_spline(x, knots)[:, 1:]


def spline_knots(x: Floats, n: Floats, inner: int = 2) -> Floats:
    """Return the ends of x and evenly spaced quantiles between, each x weighted by its n."""
    order = np.argsort(x, kind="stable")
    reached = np.cumsum(n[order]) / n.sum()
    wanted = np.arange(1, inner + 1) / (inner + 1)
    between = x[order][np.searchsorted(reached, wanted)]
    return np.unique(np.concatenate([[x.min()], between, [x.max()]]))
