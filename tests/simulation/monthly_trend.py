"""How often do series in which nothing changes signal?

Run: python -m tests.simulation.monthly_trend
"""

import numpy as np

from pipeline.statistics.clusters import ClusterSums, icc_pooled
from pipeline.statistics.control import run_chart, share_chart

SEED = 20260701
REPLICATES = 4000
YEAR = 12


def quiet_share(draw: np.random.Generator, months: int, size: float, rate: float, icc: float):
    """Counts, totals and design effect of a share that never changes; two ears where icc > 0.

    Args:
        draw: random numbers.
        months: length of the series.
        size: mean aids a month.
        rate: the true share.
        icc: correlation of the two ears.
    """
    ears = 2 if icc > 0 else 1
    wearers = np.maximum(draw.poisson(size / ears, months), 1)
    own = (
        draw.beta(rate * (1 / icc - 1), (1 - rate) * (1 / icc - 1), wearers.sum())
        if icc > 0
        else np.full(wearers.sum(), rate)
    )
    month = np.repeat(np.arange(months), wearers)
    y = draw.binomial(ears, own)
    k, yy = (np.bincount(month, values, months) for values in (y, y * y))
    n = ears * wearers
    sums = ClusterSums(n, k, wearers, ears * n, yy, ears * k, yy / ears)
    within = icc_pooled(sums, np.zeros(months))[0]
    effect = 1 + (1.0 if np.isnan(within) else within) * (ears - 1)
    return k.astype(float), n.astype(float), effect


def shares_signalling(
    replicates: int,
    *,
    months: int,
    size: float = 60,
    rate: float = 0.6,
    icc: float = 0.0,
    seed: int = SEED,
) -> tuple[float, float]:
    """Return the share of quiet series with a signal in their last year, and p-value under .05."""
    draw = np.random.default_rng(seed)
    series = (quiet_share(draw, months, size, rate, icc) for _ in range(replicates))
    charts = [share_chart(k, n, effect=effect) for k, n, effect in series]
    signals = [(chart.rule[-YEAR:] != "").any() for chart in charts]
    return float(np.mean(signals)), float(np.mean([chart.p_value < 0.05 for chart in charts]))


def runs_signalling(replicates: int, *, months: int, seed: int = SEED) -> tuple[float, float]:
    """The same for medians drawn from one log-normal distribution."""
    draw = np.random.default_rng(seed)
    charts = [run_chart(draw.lognormal(1.0, 0.2, months)) for _ in range(replicates)]
    signals = [(chart.rule[-YEAR:] != "").any() for chart in charts]
    return float(np.mean(signals)), float(np.mean([chart.p_value < 0.05 for chart in charts]))


def main() -> None:
    """Print every design's share of quiet series that signal within a year."""
    for months in (12, 24, 36):
        for rate, size in ((0.6, 60), (0.95, 200), (0.6, 12)):
            for icc in (0.0, 0.5):
                found = shares_signalling(REPLICATES, months=months, size=size, rate=rate, icc=icc)
                print(f"share {rate}, {size} a month, {months} months, icc {icc}:", *found)
        print(f"median, {months} months:", *runs_signalling(REPLICATES, months=months))


if __name__ == "__main__":
    main()
