"""What is hidden stays hidden: tried with the sums of the tables as an outsider would."""

import importlib.util
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.optimize import linprog

from pipeline.disclosure.complement import DisclosureError, check, complement
from pipeline.disclosure.rates import rate_sums, rates
from pipeline.disclosure.relations import CELL, parts
from tests.disclosure.shared import shared

SPEC = importlib.util.spec_from_file_location(
    "clinic_tables", Path(__file__).parent / "clinic_tables.py"
)
clinic_tables = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(clinic_tables)

SMALLEST = 11  # CMS cell size suppression policy, 2024-01-26: no cell of 1 to 10, 0 may be shown.
DEFINITION = ["condition_before", "definition", "unit"]


def span(equations, totals, upper, wanted):
    """Return the least and largest value of each wanted unknown that fits the equations."""
    found = []
    for at in wanted:
        aim = np.zeros(equations.shape[1])
        aim[at] = 1
        ends = [
            linprog(sign * aim, A_eq=equations, b_eq=totals, bounds=[(0, u) for u in upper])
            for sign in (1, -1)
        ]
        assert all(end.status == 0 for end in ends)
        found.append((ends[0].fun, -ends[1].fun))
    return found


def told(frame):
    """Write each cell as a dict of its groups."""
    return [
        dict(zip(row["grouping"].split("+") if row["grouping"] != "all" else (),
                 (row["group_1"], row["group_2"], row["group_3"]), strict=False))
        for row in frame.to_dicts()
    ]  # fmt: skip


def attack(shown, counted, column):
    """Span of each small hidden count of one series, from every sum over groups that is shown.

    Returns (least, largest, truth) of each.
    """
    cells = told(shown)
    values, truth = shown[column].to_list(), counted[column].to_list()
    unknown = [at for at, value in enumerate(values) if value is None]
    place = {at: i for i, at in enumerate(unknown)}
    equations, totals = [], []
    for at, cell in enumerate(cells):
        finer = {
            frozenset(other) for other in cells if set(other) > set(cell)
        }  # fmt: skip
        for columns in finer:
            members = [
                i for i, other in enumerate(cells)
                if set(other) == columns and all(other[c] == v for c, v in cell.items())
            ]  # fmt: skip
            line, total = np.zeros(len(unknown)), 0.0
            for i, sign in [(i, 1.0) for i in members] + [(at, -1.0)]:
                if values[i] is None:
                    line[place[i]] += sign
                else:
                    total -= sign * values[i]
            if line.any():
                equations.append(line)
                totals.append(total)
    small = [at for at in unknown if 0 < truth[at] < SMALLEST]
    if not equations:
        return []
    upper = [sum(truth)] * len(unknown)
    spans = span(np.array(equations), np.array(totals), upper, [place[at] for at in small])
    return [(*ends, truth[at]) for ends, at in zip(spans, small, strict=True)]


def test_no_small_number_of_aids_sent_undried_is_shown_or_follows():
    """One number a group, repeated on its rows: whoever reads any of them has it."""
    counted = clinic_tables.rescue_rate(clinic_tables.aids(0))
    shown = rates(counted, SMALLEST)
    assert shown["seen"].null_count() == shown["seen_dried"].null_count() == shown.height
    left, whole = (
        frame.filter(pl.col("grouping").is_in(["all", "site_id"]))
        .group_by(CELL, maintain_order=True)
        .agg(pl.col("sent_without_drying").max())
        for frame in (shown, counted)
    )
    told = left["sent_without_drying"].drop_nulls()
    assert told.len() > 0
    assert not told.is_between(1, SMALLEST - 1).any()
    small = attack(left, whole, "sent_without_drying")
    assert small
    assert all(high - low >= 1 for low, high, _ in small)


@pytest.mark.parametrize("seed", range(2))
def test_no_small_rescue_count_is_shown_or_follows(seed):
    counted = clinic_tables.rescue_rate(clinic_tables.aids(seed))
    shown = shared({"rescue_rate": counted}, SMALLEST)["rescue_rate"]
    for name in ("n", "rescued", "not_assessed", "patients"):
        assert not shown[name].is_between(1, SMALLEST - 1).any()
    assert not (shown["n"] - shown["rescued"]).is_between(1, SMALLEST - 1).any()
    assert shown.filter(pl.col("n").is_not_null()).height > 20
    for series in counted.select(DEFINITION).unique().rows():
        keep = pl.all_horizontal(
            pl.col(name) == value for name, value in zip(DEFINITION, series, strict=True)
        ) & (pl.col("grouping") != "cycle_number")
        for column in ("n", "rescued"):
            for low, high, value in attack(shown.filter(keep), counted.filter(keep), column):
                assert high - low > 1e-6, (series, column, value)


def test_a_hidden_number_of_aids_is_hidden_under_every_definition():
    counted = clinic_tables.rescue_rate(clinic_tables.aids(5))
    shown = rates(counted, SMALLEST)
    small = counted.filter(pl.col("n").is_between(1, 10)).select("condition_before", *CELL)
    assert small.height
    weak_measured = (pl.col("condition_before") == "weak") & (pl.col("definition") == "improved")
    same = shown.filter(~weak_measured).join(
        small.filter(pl.col("condition_before") != "weak").unique(),
        on=["condition_before", *CELL], nulls_equal=True,
    )  # fmt: skip
    assert same["n"].is_null().all()


def test_one_hidden_class_of_change_takes_another_with_it():
    counted = clinic_tables.rescue_rate(clinic_tables.aids(2))
    shown = rates(counted, SMALLEST)
    classes = shown.filter(
        pl.col("definition").is_in(clinic_tables.CLASSES), pl.col("condition_before") == "normal"
    )
    hidden = classes.group_by(CELL).agg(pl.col("rescued").is_null().sum().alias("hidden"))
    assert (hidden["hidden"] != 1).all()
    assert (hidden["hidden"] > 1).any()


def test_a_hidden_row_keeps_its_key_and_nothing_else():
    counted = clinic_tables.rescue_rate(clinic_tables.aids(1))
    shown = rates(counted, SMALLEST)
    hidden = shown.filter(pl.col("n").is_null())
    assert hidden["is_small"].all()
    for name in ("rescued", "rate", "patients", "not_assessed", "rate_if_missing_failed"):
        assert hidden[name].is_null().all()
    assert shown.select(DEFINITION + CELL).equals(counted.select(DEFINITION + CELL))
    assert shown.columns == counted.columns
    assert shown.schema == counted.schema


def test_few_unassessed_take_the_rates_that_reveal_them():
    counted = clinic_tables.rescue_rate(clinic_tables.aids(1))
    shown = rates(counted, SMALLEST)
    few = counted["not_assessed"].is_between(1, 10)
    assert few.any()
    assert shown.filter(few)["not_assessed"].is_null().all()
    assert shown.filter(few)["rate_if_missing_failed"].is_null().all()


def test_nought_is_shown_and_a_least_count_of_one_hides_nothing():
    counted = clinic_tables.rescue_rate(clinic_tables.aids(1))
    assert rates(counted, 1).equals(counted)
    none = counted.head(1).with_columns(
        pl.lit(0, pl.Int64).alias("rescued"), pl.lit(0, pl.Int64).alias("not_assessed")
    )
    assert none["n"][0] >= SMALLEST
    assert rates(none, SMALLEST)["rescued"][0] == 0


@pytest.mark.parametrize("seed", range(2))
def test_no_small_moisture_count_is_shown_or_follows(seed):
    counted = clinic_tables.moisture_distribution(clinic_tables.aids(seed, 1500))
    shown = shared({"moisture_distribution": counted}, SMALLEST)["moisture_distribution"]
    assert not shown["n"].is_between(1, SMALLEST - 1).any()
    assert not shown["wearers"].is_between(1, SMALLEST - 1).any()
    assert not shown["below_detection"].is_between(1, SMALLEST - 1).any()
    assert shown.filter(pl.col("n").is_null())["median_ul"].is_null().all()
    together = shown.join(
        shown.filter(pl.col("aids_in_chamber") == 1).select(*CELL, pl.col("n").alias("one")),
        on=CELL, nulls_equal=True,
    ).join(
        counted.filter(pl.col("aids_in_chamber") == 2).select(*CELL, pl.col("n").alias("two")),
        on=CELL, nulls_equal=True,
    ).filter(pl.col("aids_in_chamber").is_null() & pl.col("two").is_between(1, 10))  # fmt: skip
    assert together.height
    assert (together["n"].is_null() | together["one"].is_null()).all()
    for load in (1, 2):
        keep = pl.col("aids_in_chamber") == load
        for low, high, _ in attack(shown.filter(keep), counted.filter(keep), "below_detection"):
            assert high - low > 1e-6


def test_leaving_out_the_complement_is_noticed():
    counted = clinic_tables.rescue_rate(clinic_tables.aids(0))
    n = counted["n"].cast(pl.Float64).to_numpy()
    only_small = (n > 0) & (n < SMALLEST)
    with pytest.raises(DisclosureError, match="worked out"):
        check(only_small, n, rate_sums(counted)["n"], SMALLEST)


@pytest.mark.parametrize(("rest", "is_shown"), [(0, True), (1, False), (10, False), (11, True)])
def test_a_symptom_that_leaves_few_aids_of_all_is_hidden(rest, is_shown):
    """Symptoms overlap and add up to nothing, but all less one tells the aids without it."""
    every = clinic_tables.rescue_rate(clinic_tables.aids(3)).filter(
        pl.col("grouping") == "all", pl.col("condition_before") == "dead",
        pl.col("definition") == "back_to_normal",
    )  # fmt: skip
    counts = {"n": 170, "rescued": 80, "patients": 150, "not_assessed": 14}
    every = every.with_columns(pl.lit(value).alias(name) for name, value in counts.items())
    told = every.with_columns(
        pl.lit("symptom").alias("grouping"), pl.lit("no_sound").alias("group_1"),
        pl.col("n") - rest, pl.col("rescued") - rest,
    )  # fmt: skip
    shown = rates(pl.concat([every, told]), SMALLEST).filter(pl.col("grouping") == "symptom")
    assert (shown["rescued"].null_count() == 0) == is_shown


@pytest.mark.parametrize(("second", "hides_a_third"), [(5, True), (6, False)])
def test_hidden_parts_that_are_small_together_take_a_third_along(second, hides_a_third):
    """Two small parts of a shown sum: their sum, 10 or 11, follows by subtraction."""
    values = np.array([5.0, second, 40.0, 60.0, 105.0 + second])
    rows = pl.DataFrame({"row": range(5), "is_total": [False] * 4 + [True]})
    relations = parts(rows.with_columns(pl.lit(1).alias("set")), ["set"], pl.col("is_total"))
    hidden = complement((values > 0) & (values < SMALLEST), relations, [values], SMALLEST)
    assert hidden.tolist() == [True, True, hides_a_third, False, False]
