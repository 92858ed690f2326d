"""Every kind of outside number is asserted by the test that claims it, or says why by none."""

import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SECTIONS = tomllib.loads((ROOT / "tests" / "checks" / "sections.toml").read_text())


NUMBERS = {
    name: given
    for path in sorted((ROOT / "tests" / "checks").glob("*.toml"))
    if path.name != "sections.toml"
    for name, given in tomllib.loads(path.read_text(encoding="utf-8")).items()
}


@pytest.mark.parametrize("section", SECTIONS["used"])
def test_a_used_section_has_its_examples_and_a_test_that_reads_them(section):
    file, name, examples = SECTIONS["used"][section]
    text = (ROOT / file).read_text(encoding="utf-8")
    if name in NUMBERS:
        given = NUMBERS[name]
        assert (len(given) if isinstance(given, list) else 1) == examples
        assert f'"{name}"' in text
    else:  # numbers of another kind in the same examples
        assert any(name in str(given) for given in NUMBERS.values())
        assert name in text


def test_an_unused_section_has_a_reason_and_is_not_used():
    assert not set(SECTIONS["used"]) & set(SECTIONS["unused"])
    assert all(len(reason) > 15 for reason in SECTIONS["unused"].values())
