"""Finding export files: which table each is, what is refused, what its shown name may hold."""

from pathlib import Path

import pytest

from pipeline.errors import UsageError
from pipeline.intake import names
from pipeline.intake.find import find_files
from pipeline.intake.names import safe_header, safe_name
from schemas.exports.catalogue import EXPORTS, REFERENCE


def make(folder: Path, *paths: str) -> None:
    for path in paths:
        file = folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("x\n")


def test_the_light_list_of_tables_is_the_catalogue() -> None:
    assert set(names.EXPORT_TABLES) == set(EXPORTS)
    assert set(names.REFERENCE_TABLES) == set(REFERENCE)


def test_reference_comes_first_and_names_give_the_table(tmp_path: Path) -> None:
    make(tmp_path, "site-a/sessions_2026-03.csv", "reference/sites.csv", "site-a/notes.txt")
    found = find_files(tmp_path)
    assert [(f.shown, f.table_name) for f in found][:1] == [("reference/sites.csv", "sites")]
    by_table = {f.table_name: f for f in found}
    assert by_table["sessions"].problem == ""
    assert "no table's name" in by_table[None].problem


def test_a_longer_table_name_is_not_taken_for_a_shorter_one(tmp_path: Path) -> None:
    make(tmp_path, "reference/device_models.csv", "reference/devices.csv", "reference/dryers.csv")
    assert {f.table_name for f in find_files(tmp_path)} == {"device_models", "devices", "dryers"}


def test_symbolic_links_and_odd_folders_are_refused(tmp_path: Path) -> None:
    make(tmp_path, "site-a/sessions_2026-03.csv", "site b!/sessions_2026-03.csv")
    (tmp_path / "site-a" / "sessions_2026-04.csv").symlink_to("/etc/hostname")
    problems = [f.problem for f in find_files(tmp_path) if f.problem]
    assert len(problems) == 2
    assert any("symbolic link" in text for text in problems)
    assert any("not a site id" in text for text in problems)


def test_a_missing_folder_is_a_usage_error(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="does not exist"):
        find_files(tmp_path / "none")


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("sessions_2026-03.csv", "sessions_2026-03.csv"),
        ("sessions.csv.gz", "sessions.csv.gz"),
        ("sessions_2026.parquet", "sessions_2026.parquet"),
    ],
)
def test_plain_names_are_kept(name: str, shown: str) -> None:
    assert safe_name(name, "sessions") == shown


def test_a_name_that_could_hold_a_person_is_hashed() -> None:
    shown = safe_name("sessions_Ann_Example.csv", "sessions")
    assert "Ann" not in shown
    assert shown.startswith("sessions-")
    assert safe_header("Ann Example", 4) == "column 4 (text, 11 characters)"
