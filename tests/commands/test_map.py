"""A drafted mapping says what the sample shows and asks the rest; settled, it loads the sample."""

import json
import re
from pathlib import Path

import pytest

from pipeline.commands.main import main
from tests.flows.line import Line
from tests.flows.test_own_exports import GERMAN_MAPPING, mapping, write_german

NAMES = re.search(r"\[sessions.columns\]\n(.*?)\n\[", GERMAN_MAPPING, re.DOTALL)
UNITS = {
    "moisture_ul": "mL", "chamber_temp_max_c": "degF",
    "chamber_pressure_min_kpa_abs": "mmHg absolute",
}  # fmt: skip
MEANT = {
    "defekt": "dead", "schwach": "weak", "in ordnung": "normal", "ex-hörer": "ric", "hdo": "bte",
    "gehörgang": "itc", "links": "left", "rechts": "right",
}  # fmt: skip


def drafted(line: Line, sample: Path, capsys: pytest.CaptureFixture[str]) -> str:
    command = ["map", str(sample), "--site", "site-a", "--exports", str(line.exports), "--json"]
    assert main(command) == 3
    told = json.loads(capsys.readouterr().out)
    assert told["table"] == "sessions" and told["doubts"] > 0
    return str(told["draft"])


def settled(draft: str) -> str:
    """Settle doubts as a person would: words and units by name, the rest of them deleted."""
    out = []
    for text in draft.splitlines():
        if unit := re.match(r'# (\w+) = "\?"  # which\?', text):
            out.append(f'{unit[1]} = "{UNITS[unit[1]]}"')
        elif (word := re.match(r'# ("[^"]+") = "\?"  # \d+ times', text)) is not None:
            out.append(f'{word[1]} = "{MEANT[word[1].strip(chr(34))]}"')
        elif text.startswith("# below_detection"):
            out.append(text[2:])
        elif not text.startswith("# "):
            out.append(text)
    return "\n".join(out)


def test_a_draft_with_its_doubts_settled_loads_the_sample(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = Line(tmp_path)
    write_german(line)
    sample = next((line.exports / "site-a").glob("*.csv"))
    (line.exports / "site-a" / "mapping.toml").unlink()
    first = drafted(line, sample, capsys)
    assert 'delimiter = ";"  # 12 columns in 5 of the first 5 lines' in first
    assert 'encoding = "cp1252"  # no UTF-8 in line 1' in first
    assert '# "?" = "Bauform"' in first and '# condition_before = "?"' in first
    for own in ("A1", "W1", "S1", "Ex-Hörer"):
        assert f'"{own}"' not in first
    assert NAMES is not None
    head = "[sessions]\nfiles = ['Trocknung*.csv']\n"
    mapping(line, f"{head}[sessions.columns]\n{NAMES[1]}")
    second = drafted(line, sample, capsys)
    assert '# "defekt" = "?"  # 2 times: dead, weak' in second
    assert '# moisture_ul = "?"  # which? µL' in second
    assert 'date_order = "?"' in second  # 10.03. and 01.07. can be read in both orders
    assert "decimal_comma = true" in second
    whole = settled(second).replace(
        "[sessions]", f'{head}date_order = "dmy"\nconstants = {{dryer_id = "D1"}}', 1
    )
    if "\ndecimal_comma" not in whole:
        whole = whole.replace("date_order", "decimal_comma = true\ndate_order", 1)
    mapping(line, whole)
    command = ["check", str(sample), "--site", "site-a", "--zone", "Europe/Berlin", "--json"]
    code = main(command)
    [found] = json.loads(capsys.readouterr().out)["files"]
    assert (code, found["refusal"], found["accepted"], found["values_refused"]) == (0, "", 4, 0)


def test_what_could_identify_is_not_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sample = tmp_path / "sessions.csv"
    sample.write_text(
        "started_at,device_style,condition_before,device_id,ear,Ann Example,comment\n"
        "2026-03-10T09:00,ric,dead,SN1234567,Bo Example,x,Cy Example\n" * 3
    )
    assert main(["map", str(sample), "--site", "site-a"]) == 3
    told = capsys.readouterr().out.lower()
    assert "example" not in told and "sn1234567" not in told
    assert "column 6 (text, 11 characters)" in told


def test_a_draft_is_never_written_over(tmp_path: Path) -> None:
    sample, out = tmp_path / "sessions.csv", tmp_path / "mapping.toml"
    sample.write_text("started_at,device_style,condition_before\n2026-03-10,ric,dead\n")
    command = ["map", str(sample), "--site", "site-a", "--out", str(out)]
    assert main(command) == 0
    assert out.stat().st_mode & 0o077 == 0
    assert main(command) == 2
