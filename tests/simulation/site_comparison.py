"""Equal sites of very different mix, and one worse site: who is flagged?

Run `python -m tests.simulation.site_comparison`. Each data set has sites of 60 to 250 aids. The
aids' chances follow exposure, style, delay and age; each site draws its wearers from a mix of its
own, so that the sites' plain rates lie far apart although all work alike. Of three wearers two
bring both ears; the two ears go together with a correlation of .5 to .7. The worse site's aids
have a chance 25 points below what it would be elsewhere.
"""

import sys
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from pipeline.statistics.comparison import Family
from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.expected import Alike, Counts
from pipeline.statistics.site_reference import compare_sites
from pipeline.statistics.site_verdict import verdicts

LEVELS = (5, 6, 4, 3)
EFFECT_SD = (1.0, 0.5, 0.6, 0.4)
MIX_SD = 1.2
CENTRE = 0.4
OUTCOMES = {"dead_sounds_again": 0.4, "weak_back_to_normal": 0.1, "not_assessed": -2.2}
WORSE_BY = 0.25
SEED = 20
REPLICATES = 200
# Sites, and whether one of them is worse.
DESIGNS = ((4, False), (5, False), (8, False), (12, False), (30, False), (8, True), (12, True))


@dataclass(frozen=True)
class Made:
    """One data set: its counts, its wearers, its plain rates by site, and the true counts.

    `true` has the events that would be counted if chance were left out.
    """

    counts: Counts
    alike: Alike
    rates: np.ndarray
    true: Counts


@dataclass(frozen=True)
class Judged:
    """One comparison: words by site, sites judged, dispersion by wearer, family, plain rates."""

    words: np.ndarray
    judged: int
    dispersion: np.ndarray
    family: Family
    rates: np.ndarray

    @property
    def flags(self) -> np.ndarray:
        """By site: flagged."""
        return np.char.endswith(self.words, "than_expected")


def made(
    sites: int,
    rng: np.random.Generator,
    *,
    has_worse: bool = False,
    site_sd: float = 0.0,
    centre: float = CENTRE,
) -> Made:
    """Draw one data set; with `has_worse`, site 0 is the worse one.

    `centre` is the log odds of the outcome; `site_sd` is the standard deviation between
    sites of the log odds of the same aids.
    """
    aids = rng.integers(60, 251, sites)
    site = np.repeat(np.arange(sites), aids)
    place = np.arange(site.size) - np.repeat(np.cumsum(aids) - aids, aids)
    # Of five aids in a row, the first four are two pairs of ears and the fifth stands alone.
    wearer = site * 1000 + place // 5 * 3 + place % 5 // 2
    _, first, wearer = np.unique(wearer, return_index=True, return_inverse=True)
    levels = np.empty((site.size, len(LEVELS)), dtype=np.int64)
    logit = np.full(site.size, centre)
    for at, (size, sd) in enumerate(zip(LEVELS, EFFECT_SD, strict=True)):
        weight = np.exp(rng.normal(0, MIX_SD, (sites, size)))
        upto = np.cumsum(weight / weight.sum(axis=1, keepdims=True), axis=1)[site[first]]
        own = (rng.random(first.size)[:, None] > upto[:, :-1]).sum(axis=1)
        levels[:, at] = own[wearer]
        logit += rng.normal(0, sd, size)[levels[:, at]]
    if site_sd:
        logit = logit + rng.normal(0, site_sd, sites)[site]
    chance = expit(logit)
    if has_worse:
        chance = np.where(site == 0, np.maximum(chance - WORSE_BY, 0.01), chance)
    # Both ears share their luck with a chance that is their correlation.
    icc = rng.uniform(0.5, 0.7)
    shares = rng.random(first.size) < icc
    luck = np.where(shares[wearer], rng.random(first.size)[wearer], rng.random(site.size))
    happened = (luck < chance).astype(float)
    return _summed(levels, site, wearer, happened, chance, sites)


def _summed(
    levels: np.ndarray,
    site: np.ndarray,
    wearer: np.ndarray,
    happened: np.ndarray,
    chance: np.ndarray,
    sites: int,
) -> Made:
    patterns, pattern = np.unique(levels, axis=0, return_inverse=True)
    cell, row = np.unique(site * len(patterns) + pattern.ravel(), return_inverse=True)
    n = np.bincount(row).astype(float)
    counts = Counts(
        patterns, cell // len(patterns), cell % len(patterns), n, np.bincount(row, happened),
        sites, np.ones(sites, dtype=bool),
    )  # fmt: skip
    one = np.ones(site.size)
    rates = np.bincount(site, happened) / np.bincount(site)
    true = replace(counts, events=np.bincount(row, chance))
    return Made(counts, Alike(wearer, row, one, happened, one), rates, true)


def compared(data: Made) -> Judged:
    """Compare the sites of one data set."""
    told = compare_sites(data.counts, data.alike, np.full(data.counts.sites, ""))
    words = verdicts(told.family.z, adjusted_p_values(told.family.p_value), told.reason)
    return Judged(words, int((told.reason == "").sum()), told.dispersion, told.family, data.rates)


def run(
    sites: int, replicates: int, seed: int = SEED, *, has_worse: bool = False
) -> dict[str, float]:
    """Compare many data sets.

    Returns:
        false_flags (equal sites flagged, a comparison), found (share of data sets in which site 0
        was called lower), judged (sites with enough data, a comparison), dispersion (mean D),
        rate_sd (standard deviation of the sites' plain rates).
    """
    rng = np.random.default_rng([seed, sites, has_worse])
    results = [compared(made(sites, rng, has_worse=has_worse)) for _ in range(replicates)]
    equal = slice(1, None) if has_worse else slice(None)
    return {
        "false_flags": float(np.mean([r.flags[equal].sum() for r in results])),
        "found": float(np.mean([r.words[0] == "lower_than_expected" for r in results])),
        "judged": float(np.mean([r.judged for r in results])),
        "dispersion": float(np.mean([r.dispersion.mean() for r in results])),
        "rate_sd": float(np.mean([r.rates[equal].std() for r in results])),
    }


def family_run(sites: int, replicates: int, seed: int = SEED) -> dict[str, float]:
    """Compare equal sites on three outcomes that are one family, as the warehouse does.

    Aids that sound again, aids back to normal and, rare, aids not assessed are drawn apart.

    Returns:
        By outcome, false flags a comparison, and twice the standard error of the largest.
    """
    rng = np.random.default_rng([seed, sites, 3])
    flags = np.zeros((replicates, len(OUTCOMES)))
    for at in range(replicates):
        judged = []
        for centre in OUTCOMES.values():
            data = made(sites, rng, centre=centre)
            told = compare_sites(data.counts, data.alike, np.full(sites, ""))
            judged.append((told.family, told.reason))
        p = adjusted_p_values(np.concatenate([family.p_value for family, _ in judged]))
        parts = np.split(p, len(OUTCOMES))
        flags[at] = [
            np.char.endswith(verdicts(family.z, part, reason), "than_expected").sum()
            for (family, reason), part in zip(judged, parts, strict=True)
        ]
    told = dict(zip(OUTCOMES, flags.mean(axis=0).tolist(), strict=True))
    error = flags.std(axis=0).max() / np.sqrt(replicates)
    return told | {"any_outcome": float((flags.sum(axis=1) > 0).mean()), "error": 2 * error}


def main() -> None:
    """Print a line for each design."""
    for sites, has_worse in DESIGNS:
        found = run(sites, REPLICATES, has_worse=has_worse)
        what = "one of them worse" if has_worse else "all equal"
        told = ", ".join(f"{name} {value:.3f}" for name, value in found.items())
        sys.stdout.write(f"{sites} sites, {what}: {told}\n")
    for sites in (6, 12, 30):
        told = ", ".join(f"{k} {v:.3f}" for k, v in family_run(sites, REPLICATES).items())
        sys.stdout.write(f"{sites} equal sites, one family: {told}\n")


if __name__ == "__main__":
    main()
