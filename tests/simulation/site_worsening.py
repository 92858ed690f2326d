"""Equal sites with test boxes of unequal, estimated noise: who is flagged for worsened aids?

Run `python -m tests.simulation.site_worsening`. Each site has its own box: a within-aid deviation
of gain, output and distortion up to 15 % off the nominal one, known to it from 50 to 200 repeat
pairs, so that its threshold is estimated. Readings of both arms share the box's drift of the week
(standard deviation .25 dB); arms alternate by week. `worse` of the bad site's dried aids lose
8 dB; `stopped` of both arms stop working by themselves.
"""

import sys
from dataclasses import dataclass

import numpy as np

from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.site_verdict import FALSE_DISCOVERY
from pipeline.statistics.worsening import (
    Arm,
    Worsening,
    compare_with_own_cleaned,
)

Z_OF_THREE = 2.388
FACTOR = 1.5
WEEKS = 60
SEED = 31


@dataclass(frozen=True)
class Design:
    """Sites, dried aids (and cleaned-only aids) a site, weekly drift in dB, the bad site's share
    worse, the share that stops in both arms, dispersion of boxes."""

    sites: int
    dried: int
    cleaned: int
    drift: float = 0.25
    worse: float = 0.0
    stopped: float = 0.005
    boxes: float = 0.15


def made(design: Design, rng: np.random.Generator) -> tuple[Arm, Arm]:
    """Draw one comparison: the two arms, by site."""
    sd = np.exp(rng.uniform(np.log(1 - design.boxes), np.log(1 + design.boxes), design.sites))
    pairs = rng.integers(50, 201, design.sites)
    seen = sd[:, None] * np.sqrt(rng.chisquare(pairs[:, None], (design.sites, 3)) / pairs[:, None])
    needed = FACTOR * Z_OF_THREE * np.sqrt(2) * seen
    arms = []
    for is_dried in (True, False):
        n = design.dried if is_dried else design.cleaned
        week = rng.integers(0, WEEKS // 2, (design.sites, n)) * 2 + (not is_dried)
        drift = rng.normal(0, design.drift, (design.sites, WEEKS, 2))
        noise = rng.normal(0, 1, (design.sites, n, 3)) * (np.sqrt(2) * sd)[:, None, None]
        # Gain and output drift from morning to evening of a week; distortion does not.
        at = np.arange(design.sites)[:, None]
        noise[..., :2] += drift[at, week]
        better = -noise
        if is_dried and design.worse:
            is_bad = (rng.random((design.sites, n)) < design.worse) & (at == 0)
            better[..., 0] -= 8.0 * is_bad
        once = needed[:, None, :] / FACTOR
        is_worse = (better < -needed[:, None, :]).any(axis=2) & ~(better > once).any(axis=2)
        is_stopped = rng.random((design.sites, n)) < design.stopped
        arms.append(_arm(is_stopped, is_worse & ~is_stopped, week))
    return arms[0], arms[1]


def _arm(is_stopped: np.ndarray, is_worse: np.ndarray, week: np.ndarray) -> Arm:
    sites, n = is_stopped.shape
    event = (is_stopped | is_worse).astype(float)
    share = event.mean(axis=1)
    residual = event - share[:, None]
    cell = np.arange(sites)[:, None] * WEEKS + week
    by_week = np.bincount(cell.ravel(), residual.ravel(), sites * WEEKS).reshape(sites, WEEKS)
    stopped, worse = is_stopped.sum(axis=1).astype(float), is_worse.sum(axis=1).astype(float)
    return Arm(
        np.full(sites, float(n)), stopped, n - stopped, worse, (by_week**2).sum(axis=1),
        n * share * (1 - share),
    )  # fmt: skip


def flagged(found: Worsening) -> tuple[np.ndarray, np.ndarray]:
    """Return which sites are called higher, and which lower."""
    apart = adjusted_p_values(found.p_value) <= FALSE_DISCOVERY
    return apart & (found.z > 0), apart & (found.z < 0)


def run(design: Design, replicates: int, seed: int = SEED) -> dict[str, float]:
    """Return false flags a comparison (the bad site apart), share in which it was found."""
    rng = np.random.default_rng([seed, design.sites, design.dried, round(1000 * design.worse)])
    false, found = [], []
    for _ in range(replicates):
        dried, cleaned = made(design, rng)
        high, low = flagged(
            compare_with_own_cleaned(dried, cleaned, np.ones(design.sites, dtype=bool))
        )
        equal = slice(1, None) if design.worse else slice(None)
        false.append(float((high | low)[equal].sum()))
        found.append(float(high[0]))
    return {
        "false_flags": float(np.mean(false)), "false_error": 1.96 * _se(false),
        "any_false": float(np.mean(np.array(false) > 0)), "found": float(np.mean(found)),
        "found_error": 1.96 * _se(found),
    }  # fmt: skip


def _se(values: list[float]) -> float:
    return float(np.std(values) / np.sqrt(len(values)))


DESIGNS = (
    Design(6, 600, 400), Design(6, 300, 200), Design(12, 600, 400), Design(30, 600, 400),
    Design(6, 600, 400, worse=0.03), Design(6, 1500, 800, worse=0.03),
    Design(12, 600, 400, worse=0.03), Design(6, 300, 200, worse=0.06),
)  # fmt: skip


def main() -> None:
    """Print a line for each design."""
    replicates = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    for design in DESIGNS:
        told = ", ".join(f"{name} {value:.3f}" for name, value in run(design, replicates).items())
        sys.stdout.write(f"{design}: {told}\n")


if __name__ == "__main__":
    main()
