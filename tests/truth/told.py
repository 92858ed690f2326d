"""What the measures say of a world, in a few words that can be counted and compared."""

import polars as pl

from tests.truth.made import RESCUE_RATE, site_id
from tests.truth.worlds import BAD, OUTCOMES, Promise, World

FLAGS = ("higher_than_expected", "lower_than_expected")
DIRECTION = {"normal_worsened": FLAGS[0], "not_assessed": FLAGS[0]}
Said = dict[str, str]


def said(world: World, tables: dict[str, pl.DataFrame], roles: dict[str, str]) -> Said:
    """Return every verdict of a world by what it is of."""
    found: Said = {}
    if "routine_drying_verdict" in tables:
        row = tables["routine_drying_verdict"].row(0, named=True)
        found["drying"] = row["verdict"]
    if "site_comparison" in tables:
        for row in tables["site_comparison"].sort("outcome", "site_id").to_dicts():
            if row["outcome"] in OUTCOMES:
                found[f"{row['outcome']} {row['site_id']}"] = row["verdict"]
    if "rescue_rate" in tables:
        found |= _rates(world, tables)
    if roles:
        for row in tables["dryer_calibration"].to_dicts():
            name = f"{row['site_id']} {row['dryer_id']}"
            if name in roles:
                found[name] = row["standing"]
    return found


def _rates(world: World, tables: dict[str, pl.DataFrame]) -> Said:
    rates = tables["rescue_rate"].filter(
        pl.col("condition_before") == "weak", pl.col("definition") == "back_to_normal",
        pl.col("unit") == "first_cycle", pl.col("grouping") == "all",
    )  # fmt: skip
    row = rates.row(0, named=True)
    is_inside = row["adjusted_low"] <= RESCUE_RATE["weak"] <= row["adjusted_high"]
    found = {"rate weak": "inside" if is_inside else "outside"}
    if world.copies:
        sets = tables["analysis_set"].filter(
            pl.col("measure") == "rescue_rate", pl.col("site_id") == site_id(0)
        )
        is_out = sets.height > 0 and not sets["is_in"].any()
        found["left out"] = "site 0" if is_out else "not left out"
    return found


def counted(promise: Promise, world: World, words: Said, roles: dict[str, str]) -> tuple[int, int]:
    """Return how often a promise's words came in a world, and out of how many.

    Flags are counted per comparison: a world counts as often as sites were wrongly flagged.
    """
    if promise.of.startswith("flags "):
        outcome = promise.of.removeprefix("flags ")
        flags = sum(word in FLAGS for name, word in words.items() if name.startswith(outcome))
        return flags, 1
    if promise.of.startswith("found "):
        outcome = promise.of.removeprefix("found ")
        word = words.get(f"{outcome} {site_id(0)}")
        return int(word == DIRECTION.get(outcome, FLAGS[1])), 1
    if promise.of in roles.values():
        own = [words[name] for name, role in roles.items() if role == promise.of and name in words]
        return sum(word in promise.words for word in own), len(own)
    return int(words.get(promise.of) in promise.words), 1


def beside(world: World, words: Said) -> int:
    """Count sites that nothing is wrong with and that are flagged on the planted outcome."""
    outcome = BAD.get(world.bad)
    return sum(
        word in FLAGS for name, word in words.items()
        if outcome and name.startswith(outcome) and not name.endswith(site_id(0))
    )  # fmt: skip


def numbers(tables: dict[str, pl.DataFrame]) -> dict[str, float]:
    """Return the estimates behind the verdicts, to six digits, for comparing two runs."""
    found: dict[str, float | None] = {}
    for table, keys, columns in NUMBERS:
        if table not in tables:
            continue
        frame = tables[table]
        if table == "rescue_rate":
            # Facts are made of first cycles alone: nothing is put together to episodes.
            frame = frame.filter(
                pl.col("grouping") == "all",
                pl.col("unit") == "first_cycle",
            )
        for row in frame.sort(keys).to_dicts() if keys else frame.to_dicts():
            name = " ".join(str(row[key]) for key in keys) or table
            found |= {f"{name} {column}": row.get(column) for column in columns}
    return {name: float(f"{value:.6g}") for name, value in found.items() if value is not None}


NUMBERS = (
    ("routine_drying_verdict", [], ("effect", "effect_low", "stopped_excess_high")),
    ("site_comparison", ["outcome", "site_id"], ("observed", "expected", "z")),
    (
        "rescue_rate", ["condition_before", "definition", "unit"],
        ("n", "rate", "adjusted_low", "adjusted_high"),
    ),
    ("dryer_calibration", ["site_id", "dryer_id"], ("checks", "mean_error_pct", "slope")),
)  # fmt: skip
