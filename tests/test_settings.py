"""Settings are checked on load; what is not set stays so."""

from pathlib import Path

import pytest

from pipeline.errors import SettingError
from pipeline.settings import Settings, read_settings, shown


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
    ("text", "says"),
    [
        ('moisture_action_level_ul = "low"', "wrong type"),
        ("moisture_action_level_ul = true", "wrong type"),
        ("moisture_action_level_ul = 0", "out of range"),
        ("share_recovering_anyway = 1.2", "out of range"),
        ("[costs]\nrepair_in_warranty = -1", "out of range"),
        ("[costs]\nrepair = 4", "unknown setting 'costs.repair'"),
        ("costs = 4", "must be a section"),
        ("episode_gap_days = 2.5", "wrong type"),
    ],
)
def test_a_bad_value_is_refused(tmp_path, text, says):
    with pytest.raises(SettingError, match=says):
        read(tmp_path, text)
