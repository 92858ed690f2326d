"""The page for a clinic's first day names commands, files and options that are there."""

import argparse
import re

import pytest

from pipeline.commands import check, forget, template
from pipeline.commands import map as map_command
from pipeline.commands.main import COMMANDS, main
from tests.flows.line import Line
from tests.test_architecture import ROOT

TEXT = (ROOT / "docs" / "first-day.md").read_text("utf-8")


def test_commands_and_options_exist() -> None:
    named = set(re.findall(r"drytally ([a-z-]+)", TEXT))
    assert named >= {"map", "check", "refresh", "template", "forget"} and named <= set(COMMANDS)
    known: set[str] = set()
    for module in (check, map_command, template, forget):
        parser = argparse.ArgumentParser()
        module.configure(parser)
        known |= set(parser._option_string_actions)
    assert set(re.findall(r"--[a-z][a-z-]+", TEXT)) <= known | {"--dashboards"}
    for link in re.findall(r"\]\(([^)]+)\)", TEXT):
        assert (ROOT / "docs" / link).is_file()


def test_the_bench_logs_workbook_is_checked_as_the_page_says(
    tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    line = Line(tmp_path_factory.mktemp("day"))
    assert main(["template", "--site", "site-a", "--into", str(line.exports)]) == 0
    capsys.readouterr()
    file = line.exports / "site-a" / "sessions.xlsx"
    code = main(["check", str(file)])
    said = capsys.readouterr().out
    assert code == 0, said
    assert "site-a/sessions.xlsx: 0 rows read" in said
