"""Do the truths of `truth.json` lie inside the reported intervals, over seeds of the generator?

The generator's exported rows are counted as `rescue_rate` counts them: first cycles of dried
aids at sites whose records stand in the headline, by the state after cleaning, the aid assessed;
the interval is the adjusted one, by wearer.
"""

import json
from collections.abc import Iterator
from pathlib import Path

import polars as pl

from pipeline.statistics.clusters import adjusted_limits, summed_clusters
from pipeline.statistics.intervals import wilson
from sample_data.columns import session_frame
from sample_data.expected import tells_its_rates
from sample_data.generate import HERE
from sample_data.group import SITES
from sample_data.rows import days_of, open_of, rows_of, streams_of
from sample_data.sessions import build_rows

FILE = Path(__file__).parents[2] / "reports" / "simulated" / "sample_rates.toml"
FIRST = 1_000
NAMES = {
    "dead_sounds_again": "Dead aids that sound again",
    "weak_back_to_normal": "Weak aids back to normal",
    "other_fault_back_to_normal": "Aids with another fault back to normal",
}
RATES = {
    "dead": ("dead_sounds_again", pl.col("condition_after") != "dead"),
    "weak": ("weak_back_to_normal", pl.col("condition_after") == "normal"),
    "other_fault": ("other_fault_back_to_normal", pl.col("condition_after") == "normal"),
}


def truths() -> dict[str, float]:
    """Return the planted rates by name."""
    kept = json.loads((HERE / "truth.json").read_text(encoding="utf-8"))
    told: dict[str, float] = kept["rescue"]["rate_of_first_cycles"]
    return {name: told[name] for name, _ in RATES.values()}


def exported(seed: int) -> pl.DataFrame:
    """Return the rows of the sites that tell their rates, as they would be exported."""
    days, frames = days_of(2), []
    for site in filter(tells_its_rates, SITES):
        rng = streams_of(site, seed)
        wearers, rows = build_rows(site, rng[0], open_of(site, days), 2, rows_of(site, days))
        frame = session_frame(site, rng[1], rng[8], wearers, rows)
        frames.append(frame.with_columns(pl.lit(site.site_id).alias("site_id")))
    return pl.concat(frames, how="diagonal_relaxed")


def intervals(seed: int) -> Iterator[tuple[str, int, float, float, float]]:
    """Yield name, n, rate and adjusted limits of each rate for one seed."""
    wearer = pl.coalesce("patient_id", "device_id", pl.format("row {}", pl.int_range(pl.len())))
    first = exported(seed).with_columns(
        pl.coalesce("condition_after_cleaning", "condition_before").alias("state"),
        pl.concat_str("site_id", wearer).alias("wearer"),
    ).filter(
        pl.col("treatment").fill_null("dried") == "dried",
        pl.col("visit_reason") != "follow_up",
        pl.col("device_style") != "bone_conduction",
        pl.col("condition_after").is_not_null(),
    )  # fmt: skip
    for state, (name, event) in RATES.items():
        by_wearer = first.filter(pl.col("state") == state).group_by("wearer").agg(
            pl.len().alias("n"), event.sum().alias("k")
        )  # fmt: skip
        n, k = (by_wearer[column].cast(pl.Float64).to_numpy() for column in ("n", "k"))
        limits = adjusted_limits(summed_clusters(n, k))
        yield (name, int(n.sum()), float(k.sum() / n.sum()), float(limits.adjusted_low[0]),
               float(limits.adjusted_high[0]))  # fmt: skip


def held(seeds: int, first: int = FIRST) -> dict[str, int]:
    """Count the seeds in whose interval each truth lies."""
    true, inside = truths(), dict.fromkeys(truths(), 0)
    for seed in range(first, first + seeds):
        for name, _, _, low, high in intervals(seed):
            inside[name] += low <= true[name] <= high
    return inside


def write(inside: dict[str, int], seeds: int) -> None:
    """Record for the methods page how often each truth lay inside."""
    lines = [
        'question = "Do the reported intervals hold the rates planted in the sample data?"',
        'design = "The invented clinics of the demo, drawn anew from other seeds. Counted as the'
        ' rescue rates are, at the sites whose records stand in the headline."',
        f"replicates = {seeds}", f"seed = {FIRST}",
        f'command = "python -m tests.truth --rates {seeds} --record"',
    ]  # fmt: skip
    for name, count in inside.items():
        low, high = (float(end) for end in wilson(count, seeds))
        lines += [
            "", "[[result]]",
            f'quantity = "{NAMES[name]}, planted {truths()[name]:.3f}: 95 % interval holds it"',
            f'found = "{count / seeds:.2f} ({low:.2f} to {high:.2f}), n = {seeds} seeds"',
            'wanted = "at least .9"',
        ]  # fmt: skip
    FILE.write_text("\n".join(lines) + "\n", encoding="utf-8")
