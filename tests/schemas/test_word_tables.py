"""Every table keyed by words of a list is looked at: it says something of each, or of no others."""

import ast
import importlib
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from pipeline.commands import word_tables
from schemas import digests, glossary
from schemas.meaning import MeaningError, Words, each_of, some_of

ROOT = Path(__file__).parents[2]
WET = Words({"wet": "Water was seen.", "dry_enough": ("dry", "No water was seen.")})
# The lists themselves, and dicts that hold the same texts in another sense.
NO_TABLES = {
    "schemas/vocabulary.py", "schemas/measure_words.py",
    "schemas/chambers.py",  # the list STANDING is made from it
}  # fmt: skip
OTHER_SENSE = {
    ("pipeline/measures/chambers/cycle_length.py", "dry"): "two curves of one load",
    ("pipeline/measures/follow_up/repairs_avoided.py", "measured"): "rows read from a query",
    ("pipeline/measures/recovery/rescue_rate.py", "improved"): "shares reckoned by definition",
    ("pipeline/statistics/share_difference.py", "wearer"): "statistics import nothing of ours",
    ("reports/brief/fates.py", "works_after_cleaning"): "states, each of several steps: STATE_OF",
}


def calls(tree: ast.AST) -> Iterator[ast.Call]:
    """Yield the calls that look at a table."""
    for node in ast.walk(tree):
        is_named = isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        if is_named and node.func.id in {"each_of", "some_of"}:
            yield node


def tables(text: str) -> Iterator[tuple[list[str], str]]:
    """Yield each dict with words of a list: its keys, and who looks at it."""
    tree = ast.parse(text)
    looked_at = {id(node.args[2]): node.func.id for node in calls(tree) if len(node.args) > 2}
    for node in ast.walk(tree):
        if isinstance(node, ast.Dict):
            keys = [k.value for k in node.keys if isinstance(k, ast.Constant)]
            if any(is_of(words, keys) for words in glossary.LISTS.values()):
                yield keys, looked_at.get(id(node), "")


def is_of(words: Words, keys: list[str]) -> bool:
    """Two words of one list at least, and most of the keys."""
    known = sum(key in words for key in keys)
    return known >= 2 and 2 * known > len(keys)


def unlooked_at(files: Mapping[str, str]) -> list[tuple[str, list[str]]]:
    return [
        (file, keys)
        for file, text in files.items()
        if file not in NO_TABLES
        for keys, by in tables(text)
        if not by and (file, keys[0]) not in OTHER_SENSE
    ]


def sources() -> dict[str, str]:
    return {
        path.relative_to(ROOT).as_posix(): path.read_text("utf-8")
        for package in word_tables.PACKAGES
        for path in sorted((ROOT / package).rglob("*.py"))
    }


def test_every_table_of_words_is_looked_at() -> None:
    assert unlooked_at(sources()) == []


def test_a_planted_table_is_found() -> None:
    planted = 'LETTERS = {"dead": "D", "weak": "W"}\nSIDES = {"left": 1, "top": 2, "low": 3}\n'
    assert unlooked_at({"reports/planted.py": planted}) == [
        ("reports/planted.py", ["dead", "weak"])
    ]
    seen = 'LETTERS = some_of("LETTERS", CONDITION, {"dead": "D", "weak": "W"})\n'
    assert unlooked_at({"a.py": seen}) == []


def test_every_exception_still_stands() -> None:
    found = {(file, keys[0]) for file, text in sources().items()
             for keys, by in tables(text) if not by and file not in NO_TABLES}  # fmt: skip
    assert found == set(OTHER_SENSE)


def test_a_table_is_called_by_its_own_name() -> None:
    named = 0
    for file, text in sources().items():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, (ast.Assign, ast.AnnAssign)):
                target = node.targets[0] if isinstance(node, ast.Assign) else node.target
                for call in calls(node):
                    assert isinstance(target, ast.Name)
                    assert ast.literal_eval(call.args[0]) == target.id, file
                    named += 1
    assert named > 40


def test_a_word_that_a_table_lacks_or_has_too_many_is_refused_with_table_and_file() -> None:
    told = {"wet": 1, "dry_enough": 2}
    assert each_of("SIGNS", WET, told) == some_of("SIGNS", WET, told) == told
    assert some_of("SIGNS", WET, {"wet": 1}) == {"wet": 1}
    assert each_of("SIGNS", WET, told | {"hidden": 3}, besides=("hidden",))["hidden"] == 3
    where = r"tests/schemas/test_word_tables\.py|test_word_tables\.py"
    with pytest.raises(MeaningError, match=rf"'dry_enough' is missing in SIGNS: .*({where})"):
        each_of("SIGNS", WET, {"wet": 1})
    for look in (each_of, some_of):
        with pytest.raises(
            MeaningError, match=rf"SIGNS has 'damp'.*\(wet, dry_enough\).*({where})"
        ):
            look("SIGNS", WET, told | {"damp": 3})


def test_all_words_but_some() -> None:
    assert WET.but("wet") == ("dry_enough",)
    assert WET.but("wet").meanings["dry_enough"].label == "dry"
    with pytest.raises(MeaningError, match="'damp' has no meaning"):
        WET.but("damp")


def test_tables_are_looked_at_only_after_a_list_was_changed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(importlib, "import_module", asked.append)
    word_tables.check_words()
    assert asked == []
    monkeypatch.setattr(digests, "WORDS", "of an earlier list")
    word_tables.check_words()
    assert asked == word_tables.modules()
    assert {"reports.bench_log", "schemas.outcomes", "pipeline.what_changed"} <= set(asked)
