"""Settings are checked on load; what is not set stays so."""

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.errors import SettingError
from pipeline.settings import Settings, shown
from pipeline.settings_file import _bounds, _declared, read_settings


def read(tmp_path: Path, text: str) -> Settings:
    file = tmp_path / "drytally.toml"
    file.write_text(text)
    return read_settings(file)


def test_costs_and_the_action_level_are_not_set_by_default(tmp_path):
    settings = read_settings(tmp_path / "absent.toml")
    assert settings == Settings()
    flat = settings.flat()
    assert flat["moisture_action_level_ul"] is flat["share_recovering_anyway"] is None
    assert flat["costs.repair_in_warranty"] is None
    assert shown(None) == "not set"
    assert settings.differences() == {}


def test_a_number_is_taken_for_what_is_not_set(tmp_path):
    given = "moisture_action_level_ul = 3\nshare_recovering_anyway = 0.25\n[costs]\n"
    settings = read(tmp_path, given + "repair_in_warranty = 40\nstaff_minutes_per_run = 4.5\n")
    assert settings.moisture_action_level_ul == 3.0
    assert isinstance(settings.moisture_action_level_ul, float)
    assert settings.costs.repair_in_warranty == 40.0
    assert settings.costs.repair_out_of_warranty is None
    assert settings.differences()["costs.staff_minutes_per_run"] == (None, 4.5)
    assert settings.digest != Settings().digest


@pytest.mark.parametrize(
    ("text", "line", "says", "write"),
    [
        ('moisture_action_level_ul = "low"', 1, "wrong type", "moisture_action_level_ul = 1.5"),
        ("moisture_action_level_ul = true", 1, "wrong type", "moisture_action_level_ul = 1.5"),
        ("moisture_action_level_ul = 2026-01-01", 1, "wrong type", "= 1.5"),
        ("moisture_action_level_ul = 0", 1, "out of range", "0.01 to 1000"),
        ("confidence_level = nan", 1, "out of range", "Write confidence_level = 0.95"),
        ("\nshare_recovering_anyway = 1.2", 2, "out of range", "0 to 1"),
        ("[costs]\nrepair_in_warranty = -1", 2, "out of range", "0 to 1000000"),
        ("[costs]\nrepair_in_warrant = 4", 2, "unknown setting 'costs.repair_in_warrant'",
         "Did you mean 'repair_in_warranty'?"),
        ("costs = 4", 1, "must be a section", "Write a line [costs]"),
        ("episode_gap_days = 2.5", 1, "wrong type", "a whole number"),
        ("episode_gap_days = true", 1, "wrong type", "Write episode_gap_days = 14"),
        ("link_wearers_across_sites = 1", 1, "wrong type", "true or false"),
        ("group_name = 4", 1, "wrong type", 'Write group_name = "the group"'),
        ("edition = 'outside'", 1, "not a word of its list", 'Write edition = "inside"'),
        ("[tolerances]\n# ours\nein_db = '3'", 3, "wrong type", "Write ein_db = 3.0"),
    ],
)  # fmt: skip
def test_a_bad_value_is_refused_with_its_line_and_what_to_write(tmp_path, text, line, says, write):
    with pytest.raises(SettingError) as caught:
        read(tmp_path, text)
    told = str(caught.value)
    assert told.startswith(f"drytally.toml, line {line}: ")
    assert says in told and write in told


def test_every_mistake_is_told_at_once(tmp_path):
    with pytest.raises(SettingError) as caught:
        read(tmp_path, "smallest_cell = 0\nfoo = 1\n[costs]\nrepair_in_warranty = 'dear'\n")
    told = str(caught.value)
    for line in (1, 2, 4):
        assert f"drytally.toml, line {line}: " in told
    assert "3 mistakes" in told and "pydantic" not in told


def test_text_that_is_no_toml_is_told(tmp_path):
    with pytest.raises(SettingError, match=r"drytally.toml: not readable as TOML .*line 2"):
        read(tmp_path, "smallest_cell = 5\ngroup_name = the group\n")
    (tmp_path / "drytally.toml").write_bytes(b"group_name = '\xff'")
    with pytest.raises(SettingError, match="not readable as UTF-8"):
        read_settings(tmp_path / "drytally.toml")


def test_every_number_has_a_range_that_holds_at_both_ends(tmp_path):
    """Just inside is taken, just outside is refused, for every setting that is a number."""
    checked = 0
    for name in Settings().flat():
        *section, key = name.split(".")
        path = tuple(name.split("."))
        if name == "claims" or _declared(path) not in (int, float):
            continue
        bounds = _bounds(path)
        head = f"[{section[0]}]\n" if section else ""
        step = 1 if _declared(path) is int else 1e-9 + abs(bounds.le) * 1e-9
        for inside, outside in ((bounds.ge, bounds.ge - step), (bounds.le, bounds.le + step)):
            assert read(tmp_path, f"{head}{key} = {inside}").flat()[name] == inside
            with pytest.raises(SettingError, match="out of range"):
                read(tmp_path, f"{head}{key} = {outside!r}")
        checked += 1
    assert checked >= 25


def test_the_library_is_asked_only_where_there_is_a_file(tmp_path):
    probe = (
        "import sys; from pathlib import Path; from pipeline.settings_file import read_settings;"
        "read_settings(Path(sys.argv[1])); print('pydantic' in sys.modules)"
    )
    file = tmp_path / "drytally.toml"

    def asked():
        done = subprocess.run(
            [sys.executable, "-c", probe, str(file)], capture_output=True, text=True, check=True
        )
        return done.stdout.strip()

    assert asked() == "False"
    file.write_text("smallest_cell = 5\n")
    assert asked() == "True"
