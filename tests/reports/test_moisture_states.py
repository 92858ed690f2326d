"""Marks, legends, sentences and titles of moisture read the state of a number, never a gap."""

import random

import polars as pl
import pytest

from reports import charts, states
from reports.dashboards.moisture import MOISTURE
from reports.figure import FINDING, NOTHING_CLEAR, NOTHING_TO_COMPARE
from reports.figures import home_dryer, moisture, moisture_titles, recheck
from reports.figures.below_detection import below_detection
from reports.figures.look_up import look_up
from reports.figures.moisture_by_season import by_rain
from reports.figures.moisture_by_style import moisture_by_style
from reports.figures.moisture_contrasts import moisture_contrasts
from reports.levels import LEVEL, with_level
from reports.quantile_marks import quantile_marks
from tests.disclosure.shared import shared
from tests.reports import made_up, made_up_moisture
from tests.reports.moisture_truth import lies

GUTTER = 0.1
RULES = [rule for section in MOISTURE.sections for rule in section.figures]


def row_of(**told) -> dict:
    """A row of quantiles at 1, 2, 3, 4 and 5 µL; a pair of numbers is bounds, a word a state."""
    row = {}
    for at, name in enumerate(states.QUANTILES, start=1):
        given = told.get(name, float(at))
        value = given if isinstance(given, float) else None
        low, high = given if isinstance(given, tuple) else (None, None)
        state = "value" if value else given if isinstance(given, str) else None
        row |= {
            f"{name}_ul": value, f"{name}_bound_low_ul": low, f"{name}_bound_high_ul": high,
            f"{name}_state": state or ("below_limit" if low == 0 else "not_estimable"),
        }  # fmt: skip
    return row


@pytest.mark.parametrize(
    ("told", "marks"),
    [
        ({}, {"from_10": 1.0, "to_90": 5.0, "from_25": 2.0, "to_75": 4.0, "median_ul": 3.0}),
        (
            {"p10": (0.0, 0.5)},
            {"from_10": 0.5, "p10_open_from": GUTTER, "p10_open_to": 0.5, "below": GUTTER},
        ),
        # Open between two bounds is neither below detection nor a triangle.
        (
            {"p10": (0.4, 1.5)},
            {"from_10": 1.5, "p10_open_from": 0.4, "p10_open_to": 1.5, "below": None},
        ),
        ({"p10": "hidden"}, {"from_10": 2.0, "to_90": 5.0, "below": None, "p10_open_to": None}),
        (
            {"p10": (0.0, 0.5), "p25": (0.0, 0.6), "median": (0.0, 2.2)},
            {"median_ul": None, "median_open_from": None, "median_open_to": 2.2, "from_25": 0.6},
        ),
        (
            {"median": (2.1, 4.4), "p75": (4.0, 9.0)},
            {"median_ul": None, "median_open_from": 2.1, "median_open_to": 4.4, "to_75": 4.0,
             "p75_open_to": 9.0},
        ),
        (dict.fromkeys(states.QUANTILES, "hidden"), {"from_10": None, "drawn": None}),
    ],
)  # fmt: skip
def test_marks_follow_the_states(told, marks):
    found = quantile_marks(row_of(**told), GUTTER)
    assert {name: found[name] for name in marks} == marks


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (1.234, "1.23 µL"),
        ((0.0, 0.5), "under 0.50 µL"),
        ((0.4, 1.5), "between 0.40 and 1.50 µL"),
        ("below_limit", "below detection"),  # its limit is not known
        ("hidden", "hidden: a small count"),
        ("not_recorded", "no usable reading"),
        ("not_estimable", "too few wearers"),
    ],
)
def test_a_quantile_is_told_by_its_state(given, said):
    assert states.told(row_of(median=given), "median") == said


def test_quantiles_without_a_number_are_listed_for_the_table():
    row = row_of(p10=(0.0, 0.5), p25=(0.0, 0.5), median=(0.4, 1.5))
    assert (
        states.without_value(row) == "10th, 25th: under 0.50 µL; median: between 0.40 and 1.50 µL"
    )
    assert states.without_value(row_of()) == ""


def random_states(seed: int) -> dict[str, pl.DataFrame]:
    """The made-up frames with states drawn anew for every quantile that may have them."""
    draw = random.Random(seed)
    frames = made_up.frames()
    rows = []
    for row in frames["moisture_distribution"].to_dicts():
        kind = draw.choice(("value", "below", "open", "few", "none", "as given"))
        names = list(states.QUANTILES)[: draw.randint(1, 5)]
        for name in names if kind != "as given" else ():
            value = row[f"{name}_ul"] or 0.4
            given = {
                "below": ("below_limit", 0.0, draw.choice((value, None))),
                "open": ("not_estimable", value * 0.6, value * 1.6),
                "few": ("not_estimable", None, None), "none": ("not_recorded", None, None),
                "value": ("value", None, None),
            }[kind]  # fmt: skip
            row |= {
                f"{name}_ul": value if kind == "value" else None, f"{name}_state": given[0],
                f"{name}_bound_low_ul": given[1], f"{name}_bound_high_ul": given[2],
            }  # fmt: skip
        if row["median_state"] != "value":
            row |= {"median_low_ul": None, "median_high_ul": None}
        rows.append(row)
    schema = frames["moisture_distribution"].schema
    return frames | {"moisture_distribution": pl.DataFrame(rows, schema=schema)}


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("is_shared", [False, True])
def test_no_figure_of_moisture_says_something_false(seed, is_shared):
    frames = random_states(seed)
    frames = with_level(shared(frames, 11) if is_shared else frames, made_up.SETTINGS)
    for rule in RULES:
        assert lies(rule(frames)) == []


def test_planted_lies_are_found():
    frames = random_states(3)
    figure = moisture_by_style(frames)
    assert lies(figure) == []
    open_row = made_up_moisture.between(figure.table.row(0, named=True), "p10", 0.2, 0.9)
    table = figure.table.with_columns(
        pl.Series(name, [open_row[name], *figure.table[name].to_list()[1:]],
                  dtype=figure.table.schema[name])
        for name in states.columns(["p10"])
    )  # fmt: skip
    record = figure.panels[0].wide["datasets"]["rows"][0]
    record |= {"below": 0.1, "says": f"{record['says'][:-1]}, 10th centile below detection."}
    planted = type(figure)(**{**vars(figure), "table": table})
    assert {word for word, _ in lies(planted)} >= {"triangle", "sentence"}


def test_a_legend_explains_what_is_drawn_and_nothing_else():
    plain = moisture.spoken(labelled([made_up_moisture.moisture_row("all", (), 100, 9.0)]))
    assert [entry.sign for entry in moisture.legend(plain)] == ["open", "thick", "thin"]
    below = moisture.spoken(labelled([made_up_moisture.moisture_row("all", (), 100, 1.0)]))
    assert [entry.sign for entry in moisture.legend(below)][-2:] == ["open_line", "left"]


def test_a_quantile_below_the_limit_starts_in_the_strip_left_of_the_axis():
    frame = moisture.spoken(labelled([made_up_moisture.moisture_row("all", (), 100, 1.0)]))
    scale, gutter = moisture.scale_and_gutter(frame)
    record = charts.quantiles(frame, scale=scale, gutter=gutter).wide["datasets"]["rows"][0]
    assert record["below"] == record["p10_open_from"] == gutter < min(scale.ticks)
    assert record["from_10"] == 0.5


def labelled(rows: list[dict]) -> pl.DataFrame:
    """Rows with a label each."""
    return pl.DataFrame(rows).with_columns(pl.Series("label", [f"g{i}" for i in range(len(rows))]))


def medians(*told: tuple[float, float, float]) -> pl.DataFrame:
    """Rows of a median and its limits."""
    return pl.DataFrame(
        [
            {"label": f"g{at}", "n": 100, "median_state": "value", "median_ul": median,
             "median_low_ul": low, "median_high_ul": high, "panel": "arid", LEVEL: 0.95}
            for at, (median, low, high) in enumerate(told)
        ]
    )  # fmt: skip


def test_titles_of_medians_by_their_state():
    apart = moisture_titles.spread(medians((4, 3.5, 4.5), (2, 1.5, 2.5)), "Median water", "styles")
    assert (apart.state, apart.rule) == (FINDING, "moisture.apart")
    near = moisture_titles.spread(medians((4, 2.4, 5), (2, 1.5, 2.5)), "Median water", "styles")
    assert near.state == NOTHING_CLEAR
    assert near.text == "No two styles are clearly apart in median water (n = 200)"
    one = moisture_titles.spread(medians((4, 3, 5)), "Median water", "styles")
    assert one.state == NOTHING_TO_COMPARE
    for count in (0, 1):
        frame = medians(*[(4, 3, 5)] * 2).with_columns(
            pl.Series("median_state", ["value"] * count + ["hidden"] * (2 - count))
        )
        found = moisture_titles.spread(frame, "Median water", "styles")
        assert found.state == NOTHING_TO_COMPARE
        assert moisture_titles.within_climates(frame, "styles").state == NOTHING_TO_COMPARE


def test_the_widest_of_many_pairs_must_be_further_apart_than_one_pair():
    # A difference of 3.2 standard errors (z for one pair 1.96, for 28 by Sidak 3.13, for 45 3.26).
    error = 1 / 1.959964
    wide = 3.2 * 2**0.5 * error
    two = ((10 + wide, 9 + wide, 11 + wide), (10, 9, 11))
    between = [(10 + wide / 2, 9 + wide / 2, 11 + wide / 2)]

    def state(groups: int) -> str:
        rows = medians(*two, *between * (groups - 2))
        return moisture_titles.spread(rows, "Median water", "styles").state

    assert (state(2), state(8), state(10)) == (FINDING, FINDING, NOTHING_CLEAR)


@pytest.mark.parametrize(
    ("verdict", "delta", "state", "text"),
    [
        ("higher", 0.12, FINDING, "With a dryer at home the aid is the drier in 56 (54 to 58)"),
        ("lower", -0.12, FINDING, "With a dryer at home the aid is the wetter in 56 (54 to 58)"),
        ("not_apart", 0.02, NOTHING_CLEAR, "A dryer at home: the drier aid in 51 (49 to 53)"),
    ],
)
def test_the_title_on_dryers_at_home_is_read_from_those_without(verdict, delta, state, text):
    frames = made_up.frames()
    none = (pl.col("grouping") == "home_dryer") & (pl.col("group_1") == "none")
    frames["moisture_contrast"] = frames["moisture_contrast"].with_columns(
        pl.when(none).then(pl.lit(value)).otherwise(pl.col(name)).alias(name)
        for name, value in (("verdict", verdict), ("cliffs_delta", delta),
                            ("delta_low", delta - 0.04), ("delta_high", delta + 0.04))
    )  # fmt: skip
    figure = home_dryer.home_dryer(frames)
    assert (figure.title.state, figure.title.text[: len(text)]) == (state, text)
    assert ("n = 2\u202f100" in figure.title.text) == (state == NOTHING_CLEAR)
    assert any("association" in text for text in figure.caveats)
    untold = frames | {"moisture_contrast": pl.DataFrame()}
    assert home_dryer.home_dryer(untold).title.state == NOTHING_TO_COMPARE


def test_a_share_below_detection_of_nothing_is_a_rate_with_its_interval():
    row = made_up_moisture.moisture_row("all", (), 300, 9.0) | {
        "below_detection": 0, "share_below_detection": 0.0, "share_below_low": 0.0,
        "share_below_high": 0.0126,
    }  # fmt: skip
    title = below_detection({"moisture_distribution": pl.DataFrame([row])}).title
    assert title.state == FINDING
    assert title.text.startswith("0.0\u202f% (0.0 to 1.3\u202f%) of one-aid loads")


def test_contrasts_that_cannot_be_told_are_nothing_to_compare():
    frames = made_up.frames()
    frames["moisture_contrast"] = frames["moisture_contrast"].with_columns(
        pl.lit("cannot_tell").alias("verdict")
    )
    assert moisture_contrasts(frames).title.state == NOTHING_TO_COMPARE
    frames["moisture_contrast"] = frames["moisture_contrast"].with_columns(
        pl.lit("not_apart").alias("verdict")
    )
    title = moisture_contrasts(frames).title
    assert (title.state, "n = 5\u202f200" in title.text) == (NOTHING_CLEAR, True)


def test_contrasts_that_are_not_tested_have_no_dot():
    frames = made_up.frames()
    figure = moisture_contrasts(frames)
    drawn = {row["label"]: row for panel in figure.panels
             for row in panel.wide["datasets"]["rows"]}  # fmt: skip
    assert drawn["arid"]["axis_label"] == "arid · cannot tell"
    assert (drawn["arid"]["wetter_of_100"], drawn["arid"]["absent"]) == (None, "too few sites")
    assert drawn["summer"]["wetter_of_100"] == pytest.approx(55)
    tested = frames["moisture_contrast"].filter(pl.col("untested_because").is_null()).height
    assert sum(row["wetter_of_100"] is not None for row in drawn.values()) == tested


@pytest.mark.parametrize(
    ("dew", "dry", "said"),
    [
        ((23.3, 23.8), (2.6, 2.3, 2.9), "air more humid in the dry season (dew point 23.8 against "
         "23.3\u00a0°C); water not clearly apart (dry 2.6, wet 2.5\u00a0µL)."),
        ((24.0, 20.0), (1.2, 1.1, 1.3), "air more humid in the wet season (dew point 24.0 against "
         "20.0\u00a0°C); more water in the wet season (2.5 against 1.2\u00a0µL)."),
        ((23.31, 23.34), (4.0, 3.8, 4.2), "air equally humid (dew point 23.3\u00a0°C); more water "
         "in the dry season (4.0 against 2.5\u00a0µL)."),
        ((None, 20.0), (1.2, 1.1, 1.3), "more water in the wet season (2.5 against 1.2\u00a0µL)."),
    ],
)  # fmt: skip
def test_wet_and_dry_seasons_are_told_by_their_numbers(dew, dry, said):
    rows = [
        {"panel": "Tropical", "label": label, "n": 600, "median_state": "value",
         "mean_normal_dew_point_c": point, LEVEL: 0.95}
        | dict(zip(moisture_titles.WANTED, median, strict=True))
        for label, point, median in zip(("wet", "dry"), dew, ((2.5, 2.4, 2.6), dry), strict=True)
    ]  # fmt: skip
    frame = pl.DataFrame(rows)
    assert by_rain(frame) == (f"Tropical, wet and dry by rainfall: {said}",)
    assert by_rain(frame.filter(label="wet")) == ()


def test_gains_and_days_by_their_state():
    frames = made_up.frames()
    table = frames["recheck_interval"]
    assert recheck.recheck_gain(frames).title.state == FINDING
    hidden = table.with_columns(pl.lit(None, pl.Float64).alias("median_gain_high_ul"))
    assert recheck.recheck_gain({"recheck_interval": hidden}).title.state == NOTHING_TO_COMPARE
    flat = table.with_columns(
        pl.lit(1.0).alias(name) for name in ("median_gain_low_ul", "median_gain_high_ul")
    )
    assert recheck.recheck_gain({"recheck_interval": flat}).title.state == NOTHING_CLEAR
    never = pl.DataFrame(
        [{"days_to_tenth_over": None, "longest_gap_days": 600, "n": 900}],
        schema_overrides={"days_to_tenth_over": pl.Int64},
    )
    assert recheck.days_title(never).state == NOTHING_CLEAR
    unseen = never.with_columns(pl.lit(None, pl.Int64).alias("longest_gap_days"))
    assert recheck.days_title(unseen).state == NOTHING_TO_COMPARE


def test_the_form_reads_both_ends_of_every_centile():
    figure = look_up(made_up.frames())
    cells = {(c["device_style"], c["days_since_dry_band"]): c for c in figure.look_up.cells}
    bte, cic = cells["bte", None], cells["cic", None]
    assert (bte["p10_low_ul"], bte["p10_ul"], bte["p10_high_ul"]) == (pytest.approx(0.84),) * 3
    assert (cic["p10_low_ul"], cic["p10_ul"], cic["p10_high_ul"]) == (0.0, None, 0.5)
    assert cic["without_value"] == "10th: under 0.50 µL"
    assert ("cic", "30_89_days") not in cells  # too few wearers for its ends


def test_a_share_without_an_interval_is_no_finding():
    frame = made_up.moisture_distribution()
    assert below_detection({"moisture_distribution": frame}).title.state == "finding"
    few = frame.with_columns(pl.lit(None, pl.Float64).alias("share_below_low"))
    title = below_detection({"moisture_distribution": few}).title
    assert (title.state, title.rule) == ("nothing_to_compare", "below.unknown")
