"""Claims are read from the settings, and a wrong one says which and why."""

import pytest

from pipeline.errors import SettingError
from pipeline.measures.recovery.rescue_rate import DEFINITIONS
from pipeline.settings import CLAIMABLE, Settings, shown
from pipeline.settings_file import read_settings
from schemas import vocabulary as words

CLAIM = {
    "name": '"leaflet"', "share": "0.8", "condition_before": '"dead"',
    "definition": '"sounds_again"', "source": '"a leaflet of 2020"',
}  # fmt: skip


def read(tmp_path, *claims):
    text = "".join(
        "[[claims]]\n" + "".join(f"{name} = {value}\n" for name, value in claim.items())
        for claim in claims
    )
    file = tmp_path / "drytally.toml"
    file.write_text(text)
    return read_settings(file)


def test_claims_are_read_and_change_the_digest(tmp_path):
    settings = read(tmp_path, CLAIM, CLAIM | {"name": '"talk"', "unit": '"episode"'})
    assert [(c.name, c.share, c.unit) for c in settings.claims] == [
        ("leaflet", 0.8, "first_cycle"), ("talk", 0.8, "episode"),
    ]  # fmt: skip
    assert settings.digest != Settings().digest
    assert "claims" in settings.differences()
    assert shown(settings.flat()["claims"]) == "leaflet: 0.8; talk: 0.8"
    assert shown(Settings().flat()["claims"]) == "none"


def test_what_can_be_claimed_is_what_is_counted():
    assert set(CLAIMABLE) == set(words.CONDITION)
    assert {c: set(d) for c, d in CLAIMABLE.items()} == {c: set(d) for c, d in DEFINITIONS.items()}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"share": "1.2"}, "out of range"), ({"share": '"much"'}, "wrong type"),
        ({"condition_before": '"wet"'}, "not a word"), ({"definition": '"improved"'}, "not a word"),
        ({"unit": '"week"'}, "not a word"), ({"odds": "3"}, "unknown 'odds'"),
        ({"source": '""'}, "wrong type"),
    ],
)  # fmt: skip
def test_a_wrong_claim_is_refused(tmp_path, change, says):
    with pytest.raises(SettingError, match=says):
        read(tmp_path, CLAIM | change)


def test_missing_parts_equal_names_and_other_shapes_are_refused(tmp_path):
    with pytest.raises(SettingError, match="lacks 'source'"):
        read(tmp_path, {k: v for k, v in CLAIM.items() if k != "source"})
    with pytest.raises(SettingError, match="two claims"):
        read(tmp_path, CLAIM, CLAIM)
    (tmp_path / "drytally.toml").write_text("claims = 3\n")
    with pytest.raises(SettingError, match="must be a list"):
        read_settings(tmp_path / "drytally.toml")
