"""What a site's mapping may say, and the line that each mistake in it is told with."""

from pathlib import Path

import pytest

from pipeline.errors import MappingError
from pipeline.intake.mapping_check import all_mistakes
from pipeline.intake.mapping_edit import renamed, with_key
from schemas.exports.catalogue import EXPORTS, columns_of
from tests.intake.mapped_text import section_of

MISTAKES = [
    ("[sessions]\nskip_lines = \n", 2, "not sound TOML"),
    ("delimiter = ';'\n", 1, "outside a section"),
    ("[sessions]\n\ndelimeter = ';'\n", 3, "Did you mean 'delimiter'?"),
    ("[session]\n", 1, "Did you mean 'sessions'?"),
    ("[log]\ntable = 'session'\n", 2, "'session' is no table"),
    ("[log]\ntable = 'sessions'\n", 1, "which files it is for"),
    ("[sessions]\nskip_lines = -1\n", 2, "a whole number, 0 or more"),
    ("[sessions]\ndecimal_comma = 'yes'\n", 2, "true or false"),
    ("[sessions]\nfiles = 'a*'\n", 2, "a list of texts"),
    ("[sessions]\nbelow_detection = 'LOW'\n", 2, "a list of texts"),
    ("[sessions]\ndate_order = 'dym'\n", 2, "'dmy', 'mdy', 'ymd'"),
    ("[sessions]\nexport = 'daily'\n", 2, "'period', 'cumulative', 'rolling'"),
    ("[sessions]\nzone = 'Berlin'\n", 2, "'Berlin' is not a time zone"),
    ("[sessions]\nthousands_mark = '.'\n", 2, "decimal mark as well"),
    ("[sessions]\nthousands_mark = 'x'\n", 2, "is not known"),
    ("[sessions]\nclock_offset_minutes = '5'\n", 2, "a number"),
    ("[sessions]\ncentury = 2000\n", 2, "beside date_order"),
    ("[sessions]\ndate_order = 'dmy'\ncentury = 26\n", 3, "century is not usable"),
    ("[sessions.columns]\ncondition_befor = 'x'\n", 2, "Did you mean 'condition_before'?"),
    ("[sessions.columns]\near = 3\n", 2, "a table of columns"),
    ("[sessions.columns]\near = []\n", 2, "a table of columns"),
    ("[sessions.values]\near = 'L'\n", 2, "a table of words"),
    ("[sessions.values.ear]\n'L' = 'lef'\n", 2, "Did you mean 'left'?"),
    ("[sessions.units]\nchamber_temp_max_c = 'R'\n", 2, "degC, degF, K"),
    ("[sessions.units]\near = 'degF'\n", 2, "the column has no unit"),
    ("[sessions.units]\nchamber_pressure_min_kpa_abs = 'inHg'\n", 2, "'inHg gauge'"),
    ("[sessions.units]\nchamber_pressure_min_kpa_abs = 'inHg gauge'\n", 2, "barometer_kpa ="),
    ("[sessions]\nbarometer_kpa = 760\n", 2, "40 to 110 kPa"),
    ("[sessions.constants]\ntreatment = 'dry'\n", 2, "is no word of treatment"),
    ("[sessions.columns]\near='x'\n[sessions.constants]\near='left'\n", 4, "a constant and"),
    ("[sessions.separators]\near = ','\n", 2, "one word only"),
    ("[sessions.left]\ndevice_id = 'L'\n", 1, "[sessions.right] is missing"),
    ("[sessions.left]\near='L'\n[sessions.right]\ndevice_id='R'\n", 2, "which ear it is"),
    ("[dose_checks]\nbelow_detection = ['LOW']\n", 2, "has no water reading"),
    ("[sessions]\nmatch_window_minutes = 5\n", 2, "belongs to the chamber's log"),
]


@pytest.mark.parametrize(("text", "line", "told"), MISTAKES)
def test_a_mistake_is_told_with_its_line(text: str, line: int, told: str) -> None:
    name = "dose_checks.csv" if "dose" in text else "sessions.csv"
    with pytest.raises(MappingError) as caught:
        section_of(text, name)
    assert str(caught.value).startswith(f"site-a/mapping.toml, line {line}: ")
    assert told in str(caught.value)


def test_what_a_machine_can_mend_leaves_fewer_mistakes() -> None:
    """The key that was likely meant, or a value that may stand there."""
    columns = {name: columns_of(model) for name, model in EXPORTS.items()}
    mended = 0
    for text, _, _ in MISTAKES:
        found = all_mistakes(text, "site-a/mapping.toml", columns)
        for way in (error.way for error in found if error.way is not None):
            values = [way.value] if way.value is not None else way.choices
            made = [
                renamed(text, way.path, value) if way.is_name else with_key(text, way.path, value)
                for value in values
            ]
            left = [len(all_mistakes(one, "site-a/mapping.toml", columns)) for one in made]
            assert min(left) < len(found), (text, made)
            mended += 1
    assert mended >= 15


def test_a_key_or_a_section_is_renamed_with_what_stands_below_it() -> None:
    text = '[session]\nskip_line = 2  # two\n[session.columns]\near = "Ohr"\n'
    assert renamed(text, ("session",), "sessions") == (
        '[sessions]\nskip_line = 2  # two\n[sessions.columns]\near = "Ohr"\n'
    )
    assert "skip_lines = 2  # two" in renamed(text, ("session", "skip_line"), "skip_lines")
    with pytest.raises(ValueError, match="does not show"):
        renamed("session = {skip_line = 2}\n", ("session", "skip_line"), "skip_lines")


def test_a_file_belongs_to_the_section_whose_pattern_it_fits() -> None:
    text = (
        "[old]\ntable = 'sessions'\nfiles = ['Alt_*.csv']\n[sessions]\nfiles = ['Neu_*', 'x.csv']\n"
    )
    assert section_of(text, "alt_2026.csv").name == "old"
    assert section_of(text, "Neu_Ann.csv").name == "sessions"
    both = text + "[third]\ntable = 'sessions'\nfiles = ['*_2026.csv']\n"
    with pytest.raises(MappingError, match=r"line 8: a file fits .* \[old\] and \[third\]"):
        section_of(both, "alt_2026.csv")


def test_without_a_mapping_the_start_of_the_name_tells_the_table(tmp_path: Path) -> None:
    assert section_of("", "sessions_2026.csv").table == "sessions"
    assert section_of("[dose_checks]\n", "dose_checks.csv").options.delimiter is None


def test_every_key_is_used() -> None:
    """A key that is accepted and then ignored would be worse than one that is refused."""
    from dataclasses import fields

    from pipeline.intake.mapping import KEYS, Section
    from pipeline.intake.options import ReadOptions

    known = {f.name for f in fields(Section)} | {f.name for f in fields(ReadOptions)}
    assert set(KEYS) <= known
