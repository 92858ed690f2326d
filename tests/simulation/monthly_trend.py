"""How often do series in which nothing changes signal?

Run: python -m tests.simulation.monthly_trend
"""

import numpy as np

from pipeline.statistics.control import run_chart, share_chart

SEED = 20260701
REPLICATES = 4000
YEAR = 12


def quiet_share(draw: np.random.Generator, months: int, size: float, rate: float, icc: float):
    """Counts and totals of a share that never changes; two ears of a wearer where icc is above 0.

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
    k = np.bincount(month, draw.binomial(ears, own), months)
    return k.astype(float), ears * wearers.astype(float)


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
    charts = [share_chart(*quiet_share(draw, months, size, rate, icc)) for _ in range(replicates)]
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
