"""Every figure keeps its contract, and every computed title is true of the frame."""

import csv
import io
import math

import altair as alt
import polars as pl
import pytest

from reports import charts, rates, tables, words
from reports.dashboards.declared import DASHBOARDS
from reports.errors import ReportError
from reports.figure import Figure, Title, refuse_unfit
from reports.figures import calendar_strip, chamber_use, moisture, refused_rules
from reports.figures.rescue_by_condition import rescue_by_condition
from reports.figures.working_improvement import working_improvement
from reports.methods import catalogue as methods
from tests.disclosure.shared import shared
from tests.reports import made_up
from tests.reports.made_up_recovery import rate_row
from tests.schemas.frames import TABLES

RULES = [
    (page.id, rule) for page in DASHBOARDS for section in page.sections for rule in section.figures
]


@pytest.fixture(scope="module")
def figures():
    given = made_up.frames()
    return [(page, rule(given)) for page, rule in RULES]


@pytest.mark.parametrize("has_frames", [True, False])
def test_a_figure_says_what_it_is(figures, has_frames):
    found = figures if has_frames else [(page, rule({})) for page, rule in RULES]
    for page, figure in found:
        where = f"{page}: {figure.id}"
        assert 0 < len(figure.title.text) <= 110, (where, figure.title.text)
        assert "n = " in figure.subtitle, where
        assert figure.question.endswith("?"), where
        assert len(figure.alt) >= 20, where
        assert figure.source_table in TABLES, where
        assert figure.method_anchor in methods.ANCHORS, where
        assert "None" not in figure.title.text + figure.subtitle + figure.alt, where
        assert "nan" not in figure.subtitle.split(), where


def test_figures_have_ids_of_their_own_on_a_page(figures):
    for page in DASHBOARDS:
        ids = [figure.id for where, figure in figures if where == page.id]
        assert len(ids) == len(set(ids))


def test_numbers_drawn_are_numbers_of_the_table(figures):
    drawn = 0
    for _, figure in figures:
        named = {column.name for column in figure.columns}
        for panel in figure.drawings:
            for spec in filter(None, (panel.wide, panel.narrow)):
                used = _fields(spec) & named
                for record in spec["datasets"]["rows"]:
                    numbers = {name: record[name] for name in used if name in record}
                    if figure.id in {"row-account", "quality-checks"}:
                        continue  # drawn from the table's rows summed up; see the tests below
                    assert any(
                        all(row[name] == value for name, value in numbers.items())
                        for row in figure.table.to_dicts()
                    ), (figure.id, numbers)
                    drawn += 1
    assert drawn > 100


def _fields(spec):
    found = set()
    for layer in spec["layer"]:
        for channel in layer["encoding"].values():
            if isinstance(channel, dict) and channel.get("type", "quantitative") == "quantitative":
                found.add(channel.get("field"))
    return found


def test_refused_shares_drawn_add_up_to_the_account(figures):
    figure = next(figure for _, figure in figures if figure.id == "row-account")
    for record in figure.panels[0].wide["datasets"]["rows"]:
        files = figure.table.filter(pl.col("site") == record["label"])
        expected = files["quarantined"].sum() / files["rows_read"].sum()
        assert record["quarantined_share"] == pytest.approx(expected)


def test_site_months_drawn_add_up_to_the_checks(figures):
    figure = next(figure for _, figure in figures if figure.id == "quality-checks")
    for record in figure.panels[0].wide["datasets"]["rows"]:
        rows = figure.table.filter(pl.col("check") == record["label"])
        assert record["months_over"] == rows["months_over"].sum()


def test_csv_is_the_table(figures):
    for _, figure in figures:
        if not figure.columns:
            continue
        text = tables.csv_text(figure.table, figure.columns)
        header, *rows = list(csv.reader(io.StringIO(text)))
        assert header == [column.name for column in figure.columns]
        assert len(rows) == figure.table.height
        for row, stored in zip(rows, figure.table.select(header).rows(), strict=True):
            for text_cell, value, column in zip(row, stored, figure.columns, strict=True):
                if value is None:
                    assert text_cell == ""
                elif isinstance(value, float):
                    assert float(text_cell) == pytest.approx(value, rel=1e-6)
                else:
                    assert text_cell.lstrip("'") == str(value).lstrip("'"), column.name


def test_every_drawing_is_sound_vega_lite(figures):
    for _, figure in figures:
        for panel in figure.drawings:
            for spec in filter(None, (panel.wide, panel.narrow)):
                alt.LayerChart.validate(spec)
                assert spec["config"]["aria"] is False


def test_every_rate_has_its_interval_on_the_chart(figures):
    for _, figure in figures:
        if figure.source_table == "rescue_rate":
            for panel in figure.drawings:
                assert {"rate"} < _fields(panel.wide)
                ends = {"wilson_low", "adjusted_low"}, {"rate_if_missing_failed", "outer_low"}
                assert any(pair <= _fields(panel.wide) for pair in ends), figure.id


def test_identifying_columns_and_long_frames_are_refused():
    for column in ("device_id", "patient_id", "session_id", "assessor_id", "wearer_key"):
        with pytest.raises(ReportError, match=column):
            refuse_unfit("x", pl.DataFrame({column: ["a"]}))
    with pytest.raises(ReportError, match="2001 rows"):
        refuse_unfit("x", pl.DataFrame({"n": range(2001)}))
    with pytest.raises(ReportError):
        Figure("x", "q?", Title("r", "t", "finding"), "n = 1", "alt", "rescue_rate", "rescue-rates",
               pl.DataFrame({"patient_id": ["a"]}), ())  # fmt: skip


@pytest.mark.parametrize("seed", range(12))
def test_a_spread_title_names_groups_whose_intervals_are_apart(figures, seed):
    """Only the rates differ by seed, so only figures of rates are made anew."""
    given = made_up.frames(seed)
    for (_, rule), (_, first) in zip(RULES, figures, strict=True):
        figure = rule(given) if first.source_table == "rescue_rate" else first
        if figure.title.rule != "spread.apart":
            continue
        rows = [row for row in figure.table.to_dicts() if row["condition_before"] == "dead"]
        named = [row for row in rows if row["group_1"] not in {None, "unknown"}]
        firm = [row for row in named if not row["is_small"] and row["rate"] is not None]
        best = max(row["rate"] for row in firm)
        worst = min(row["rate"] for row in firm)
        assert f"{best * 100:.0f}\u202f%, against {worst * 100:.0f}\u202f%" in figure.title.text
        top = next(row for row in firm if row["rate"] == best)
        low = next(row for row in firm if row["rate"] == worst)
        assert top["adjusted_low"] > low["adjusted_high"]


@pytest.mark.parametrize(
    ("low", "high", "rule"),
    [
        (0.05, 0.07, "improved.above_noise"),
        (0.005, 0.012, "improved.below_noise"),
        (0.01, 0.07, "improved.as_noise"),
        (None, None, "improved.too_few"),
    ],
)
def test_improvement_is_set_against_noise(low, high, rule):
    row = rate_row("normal", "improved", "all", None, 900, 0.03, expected_by_noise=0.017)
    frame = pl.DataFrame([row | {"adjusted_low": low, "adjusted_high": high}])
    frame = frame.with_columns(pl.col("group_1", "group_2", "group_3").cast(pl.String))
    assert working_improvement({"rescue_rate": frame}).title.rule == rule


def test_a_small_dead_group_gives_a_neutral_title():
    frame = pl.DataFrame([rate_row("dead", "sounds_again", "all", None, 12, 0.5)])
    frame = frame.with_columns(pl.col("group_1", "group_2", "group_3").cast(pl.String))
    assert rescue_by_condition({"rescue_rate": frame}).title.rule == "dead.too_few"


def test_the_dead_title_gives_the_rate_and_the_adjusted_interval():
    figure = rescue_by_condition(made_up.frames())
    row = rate_row("dead", "sounds_again", "all", None, 820, 0.31)
    low, high = row["adjusted_low"] * 100, row["adjusted_high"] * 100
    assert figure.title.text.startswith(
        f"Of 820 aids still dead after cleaning, {row['rate'] * 100:.0f}\u202f% sound again"
    )
    assert f"({low:.0f} to {high:.0f}\u202f%)" in figure.title.text


def test_unrecorded_order_of_work_is_said_in_the_title():
    row = rate_row("dead", "sounds_again", "all", None, 820, 0.31, order_not_recorded=5)
    frame = pl.DataFrame([row]).with_columns(
        pl.col("group_1", "group_2", "group_3").cast(pl.String)
    )
    assert "cleaned and dried" in rescue_by_condition({"rescue_rate": frame}).title.text


def test_quiet_chambers_are_counted():
    use = made_up.utilisation()
    slow = use.with_columns(
        pl.when(pl.col("site_id") == "site-01").then(0.4).otherwise("runs_per_open_day")
        .alias("runs_per_open_day")
    )  # fmt: skip
    title = chamber_use.chamber_use({"utilisation": slow, "site": made_up.frames()["site"]}).title
    assert title == Title(
        "use.quiet", "1 of 6 chambers run less than once on a usual open day", "finding"
    )  # fmt: skip


def test_gaps_are_counted_from_a_sites_first_month():
    frame = calendar_strip.per_month(made_up.frames())
    gaps = {row["site_id"] for row in frame.to_dicts() if row["state"] != "full"}
    assert gaps == {"site-02", "site-06"}
    assert calendar_strip.title(frame).text == "2 of 6 sites have weeks without data"


@pytest.mark.parametrize(
    ("cleared", "said"),
    [
        ((90, 95, 98, 100), "The first 3 of 4 fixes clear 98\u202f% of 100 refused rows"),
        ((60, 90, 100), "3 fixes clear all 100 refused rows"),
        ((100,), "1 fix clears all 100 refused rows"),
    ],
)
def test_the_title_says_what_the_first_fixes_clear(cleared, said):
    frame = pl.DataFrame({"cleared": cleared, "refused": [100] * len(cleared)})
    assert refused_rules.title(frame, "refused rows").text == said


def test_loads_are_chosen_by_aids_and_basis():
    frame = made_up.moisture_distribution()
    as_read = frame.with_columns(
        pl.lit("as_read").alias("basis"), pl.lit(1, dtype=pl.Int64).alias("n")
    )
    both = {"moisture_distribution": pl.concat([frame, as_read])}
    assert moisture.loads(both, "all", 1)["n"].to_list() == [5200]
    assert moisture.loads(both, "all", 2)["n"].to_list() == [2100]


def test_axis_labels_stay_apart_when_cut_alike():
    names = ["A very long name of a clinic in a very long street, north wing",
             "A very long name of a clinic in a very long street, south wing"]  # fmt: skip
    found = charts.axis_labels(names, ["n 10", "n 10"])
    assert len(set(found)) == 2
    assert all(len(label) <= charts.LABEL_SIGNS + 3 for label in found)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Northgate Fen, D14-1", "Northgate Fen, D14-1"),
        ("A very long name of a clinic, D14-1", "A very long…, D14-1"),
        ("invisible in canal (IIC), winter", "invisible in…, winter"),
        ("one word that is far too long for the room", "one word that is far…"),
        ("short, but with an end that is far too long to keep", "short, but with an…"),
    ],
)
def test_a_name_is_cut_within_so_that_what_varies_stays(text, shown):
    assert words.cut_within(text, 22 if "D14" in text else 21) == shown


def test_sites_stand_in_alphabetical_order_and_equal_names_are_told_apart(figures):
    twin = pl.DataFrame({"site_id": ["b", "a"], "site_name": ["Same", "Same"]})
    assert rates.site_names({"site": twin}) == {"a": "Same (a)", "b": "Same (b)"}
    for page, figure in figures:
        if figure.id in {"outcome-ladder", "repairs-avoided"}:
            continue  # their rows are steps and shares; sites stand in a column of their own
        if page == "sites" and figure.panels and "label" in figure.table.columns:
            labels = [label.lower() for label in figure.table["label"].to_list()]
            assert labels == sorted(labels), figure.id


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.2553, "26\u202f%"), (0.0, "0\u202f%"), (None, "–"), (math.nan, "–")],
)
def test_shares_are_printed(share, text):
    assert words.percent(share) == text


def test_numbers_are_printed_without_a_negative_zero():
    assert words.number(-0.01) == "0.0"
    assert words.number(-1.26) == "\u22121.3"
    assert words.count(1234567) == "1\u202f234\u202f567"


def test_figures_are_drawn_from_suppressed_frames():
    shown = shared(made_up.frames(), 11)
    assert shown["rescue_rate"]["n"].null_count() > 0
    for _, rule in RULES:
        figure = rule(shown)
        assert len(figure.title.text) <= 110, figure.id
        assert "None" not in figure.title.text + figure.subtitle + figure.alt, figure.id
