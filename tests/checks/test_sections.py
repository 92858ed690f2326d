"""Every kind of outside number is asserted by the test that claims it, or says why by none."""

import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SECTIONS = tomllib.loads((ROOT / "tests" / "checks" / "sections.toml").read_text())


@pytest.mark.parametrize("section", SECTIONS["used"])
def test_a_used_section_is_named_in_its_test(section):
    file, word = SECTIONS["used"][section]
    assert word in (ROOT / file).read_text(encoding="utf-8")
    numbers = [path.read_text() for path in (ROOT / "tests" / "checks").glob("*.toml")]
    assert any(word in text for text in numbers)


def test_an_unused_section_has_a_reason_and_is_not_used():
    assert not set(SECTIONS["used"]) & set(SECTIONS["unused"])
    assert all(len(reason) > 15 for reason in SECTIONS["unused"].values())
