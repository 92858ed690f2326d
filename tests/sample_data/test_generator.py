"""The generator: same bytes from a seed, exact sizes, canonical headers, shipped files."""

import gzip
import json
from pathlib import Path

import polars as pl
import pytest

from sample_data.faults import write_faults
from sample_data.generate import HERE, SEED, days_of, differences, generate, main, rows_of
from sample_data.group import SITES, group_of
from sample_data.truth import truth_of
from schemas.exports.catalogue import EXPORTS, REFERENCE, columns_of

SHIPPED = HERE / "exports"
FOUR_MB = 4_000_000


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def text_of(path: Path) -> str:
    data = path.read_bytes()
    return (gzip.decompress(data) if path.suffix == ".gz" else data).decode()


def test_same_seed_gives_same_bytes_and_another_seed_does_not(tmp_path):
    for name, seed in (("a", 3), ("b", 3), ("c", 4)):
        generate(tmp_path / name, seed=seed, sites=SITES[:2], years=0.5, rows=300)
    assert files_of(tmp_path / "a") == files_of(tmp_path / "b")
    assert files_of(tmp_path / "a") != files_of(tmp_path / "c")


def test_a_site_is_the_same_whoever_else_is_in_the_group(tmp_path):
    generate(tmp_path / "pair", seed=3, sites=SITES[:2], years=0.5, scale=0.1)
    generate(tmp_path / "alone", seed=3, sites=SITES[1:2], years=0.5, scale=0.1)
    assert files_of(tmp_path / "pair" / "site-02") == files_of(tmp_path / "alone" / "site-02")


@pytest.mark.parametrize("rows", [1, 7, 1001])
def test_rows_asked_for_are_rows_written(tmp_path, rows):
    written = generate(tmp_path, seed=1, sites=group_of(3), years=1, rows=rows, file_period="year")
    found = sum(text_of(p).count("\n") - 1 for p in tmp_path.glob("site-*/sessions_*"))
    assert (written, found) == (rows, rows)


def test_large_groups_repeat_the_climates_under_new_numbers(tmp_path):
    group = group_of(30)
    assert [site.number for site in group] == list(range(1, 31))
    assert len({site.name for site in group}) == 30
    assert all(site.rescue_log_odds == 0 for site in group[len(SITES) :])
    assert main(["--into", str(tmp_path), "--rows", "600", "--sites", "20", "--years", "1"]) == 0
    assert len(list(tmp_path.glob("site-*"))) == 20


def test_shipped_exports_are_what_the_generator_makes():
    assert main(["--check"]) == 0


def test_check_sees_a_changed_file(tmp_path):
    generate(tmp_path / "made", seed=1, sites=SITES[13:], years=0.3, rows=40)
    generate(tmp_path / "kept", seed=1, sites=SITES[13:], years=0.3, rows=40)
    assert differences(tmp_path / "made", tmp_path / "kept") == []
    changed = tmp_path / "kept" / "reference" / "sites.csv"
    changed.write_text(changed.read_text().replace("Northgate", "Southgate"))
    (tmp_path / "kept" / "site-14" / "extra.csv").write_text("x\n")
    assert differences(tmp_path / "made", tmp_path / "kept") == [
        "reference/sites.csv",
        "site-14/extra.csv",
    ]


def test_shipped_exports_take_under_four_megabytes():
    assert sum(len(data) for data in files_of(SHIPPED).values()) < FOUR_MB


def test_truth_file_is_the_generators():
    kept = json.loads((HERE / "truth.json").read_text(encoding="utf-8"))
    rows = {site.site_id: rows_of(site, days_of(2)) for site in SITES}
    assert kept == json.loads(json.dumps(truth_of(SITES, SEED, rows)))


def test_shipped_headers_are_canonical_columns():
    tables = EXPORTS | REFERENCE
    seen = set()
    for path in sorted(SHIPPED.glob("*/*.csv*")):
        table = path.name.split(".")[0].rsplit("_2", 1)[0]
        specs = columns_of(tables[table])
        header = text_of(path).split("\n", 1)[0].split(",")
        assert set(header) <= {spec.name for spec in specs}, path
        required = {spec.name for spec in specs if spec.required}
        assert required <= set(header) | {"site_id"}, path
        seen.add(table)
    # A site sends runs of its own only where the chamber's log is apart from the records.
    assert seen == (set(EXPORTS) - {"chamber_runs"}) | {
        "sites",
        "dryers",
        "dryer_events",
        "device_models",
        "climate_normals",
    }


def test_shipped_words_are_of_the_vocabulary():
    slips = {"earhook", "solar"}
    for path in sorted(SHIPPED.glob("site-*/sessions_*")):
        frame = pl.read_csv(text_of(path).encode(), infer_schema=False)
        for spec in columns_of(EXPORTS["sessions"]):
            if spec.vocabulary is None or spec.name not in frame.columns:
                continue
            found = frame[spec.name].drop_nulls().str.split(";").explode().unique()
            assert set(found) - slips <= set(spec.vocabulary), (path, spec.name)


def test_fault_file_is_what_its_declaration_makes(tmp_path):
    write_faults(tmp_path)
    assert differences(tmp_path, HERE / "faults") == []


def test_fault_account_adds_up_and_points_at_its_lines():
    account = json.loads((HERE / "faults" / "expected_account.json").read_text(encoding="utf-8"))
    parts = account["accepted"] + account["quarantined"] + account["duplicate"]
    assert account["rows_read"] == parts
    assert account["accepted"] == len(account["accepted_lines"])
    assert account["quarantined"] == len(account["quarantined_rows"])
    assert account["values_refused"] == len(account["refused_values"])
    accepted = set(account["accepted_lines"])
    assert {value["line"] for value in account["refused_values"]} <= accepted

    text = (HERE / "faults/exports/site-01/sessions_2026-03.csv").read_bytes().decode()
    assert not text.endswith("\n")
    lines = text.split("\n")
    header = lines[0].split(",")
    for value in account["refused_values"]:
        assert lines[value["line"] - 1].split(",")[header.index(value["column"])]
    for skipped in account["skipped"]:
        assert lines[skipped["line"] - 1] in ("", lines[0])
    # One physical line more than records: the quoted newline.
    assert len(lines) == 1 + account["rows_read"] + account["skipped_lines"] + 1
