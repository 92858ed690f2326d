"""The dictionary is fresh, complete and safe to write into a database."""

import duckdb
import pytest

from schemas import dictionary
from schemas.declare import Table, column
from schemas.exports.catalogue import columns_of, rules_of
from schemas.macros import MACROS
from tests.schemas.frames import TABLES

HOSTILE = """it's "quoted"; DROP TABLE x; -- | <b>µ</b>"""


class Hostile(Table):
    """One row per it's "load"; -- nothing else.

    Key: a.
    """

    a: float = column(HOSTILE, unit="µL's")

    class Config(Table.Config):
        """A name that needs quoting."""

        name = 'se"lect'
        metadata = {"key": ("a",)}  # noqa: RUF012


def test_the_file_is_fresh() -> None:
    assert dictionary.main(["--check"]) == 0, "run python -m schemas.dictionary"


def test_a_stale_or_missing_file_is_noticed(
    tmp_path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "DATA_DICTIONARY.md"
    monkeypatch.setattr(dictionary, "FILE", file)
    assert dictionary.main(["--check"]) == 1
    assert "run python -m schemas.dictionary" in capsys.readouterr().err
    assert dictionary.main([]) == 0
    assert dictionary.main(["--check"]) == 0
    file.write_text(file.read_text(encoding="utf-8").replace("moisture", "damp", 1), "utf-8")
    assert dictionary.main(["--check"]) == 1


def test_the_file_tells_every_table_column_rule_and_macro() -> None:
    text = dictionary.markdown()
    sections = {part.split("\n", 1)[0]: part for part in text.split("\n### ")[1:]}
    assert list(sections) == list(TABLES)
    for name, model in TABLES.items():
        for spec in columns_of(model):
            assert f"| `{spec.name}` |" in sections[name]
        for rule in rules_of(model):
            assert rule.sentence in sections[name] and rule.advice in sections[name]
    for macro in MACROS:
        assert f"| `{macro.signature}` |" in text


def test_every_row_of_a_table_in_the_file_has_as_many_cells_as_its_head() -> None:
    width = 0
    for line in dictionary.markdown().splitlines():
        cells = line.replace(r"\|", "").count("|")
        width = 0 if not cells else (width or cells)
        assert cells == width, line


def test_rows_for_the_page() -> None:
    rows = dictionary.rows()
    assert len(rows) == sum(len(columns_of(model)) for model in TABLES.values())
    assert {tuple(row) for row in rows} == {
        ("part", "table_name", "grain", "column_name", "type", "unit", "description")
    }
    assert {row["part"] for row in dictionary.rows("measures", "audit")} == {"measures", "audit"}
    rate = next(r for r in rows if (r["table_name"], r["column_name"]) == ("rescue_rate", "rate"))
    assert (rate["type"], rate["unit"]) == ("DOUBLE", "share 0-1")
    key = ("sessions", "device_id")
    aid = next(r for r in rows if (r["table_name"], r["column_name"]) == key)
    assert aid["type"] == "text" and "Kept only as a keyed hash." in str(aid["description"])


def test_ranges_in_words() -> None:
    told = {spec.name: dictionary.range_of(spec) for spec in columns_of(TABLES["sessions"])}
    assert told["hfa_gain_before_db"] == "−20 to 90"
    assert told["cycle_minutes"] == "above 0, up to 1440"
    assert told["ear"] == ""


@pytest.mark.parametrize("model", [*dictionary.tables("facts"), *dictionary.tables("measures"),
                                   *dictionary.tables("audit"), Hostile])  # fmt: skip
def test_comments_reach_the_database_whole(model: type[Table]) -> None:
    name = model.Config.name.replace('"', '""')
    kinds = {spec.name: dictionary.type_of(spec, "facts") for spec in columns_of(model)}
    with duckdb.connect(":memory:", config={"threads": 1}) as con:
        listed = ", ".join(f'"{column}" {kind}' for column, kind in kinds.items())
        con.execute(f'CREATE TABLE "{name}" ({listed})')
        for statement in dictionary.comments(model):
            con.execute(statement)
        grain = con.execute("SELECT comment FROM duckdb_tables()").fetchall()
        found = con.execute(
            "SELECT column_name, comment FROM duckdb_columns() WHERE NOT internal"
        ).fetchall()
    assert grain == [(dictionary.grain(model),)]
    assert dict(found) == {
        spec.name: dictionary.meaning(spec) + (f" [{spec.unit}]" if spec.unit else "")
        for spec in columns_of(model)
    }
