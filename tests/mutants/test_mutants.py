"""The mutants themselves: found in the code as it is, caught where a test looks, told where not."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.mutants import draw, record, run
from tests.mutants.mutant import KINDS, LISTS, Mutant, NotFoundError, listed, part_of

MUTANTS = listed()
ONE = Mutant(
    "the rarer of two", "threshold", "pipeline/**/levels.py", "def ", "class ",
    ("tests/**/test_levels.py",),
)  # fmt: skip


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda own: own.name)
def test_every_mutant_changes_the_code_as_it_is(mutant: Mutant) -> None:
    text = mutant.changed()
    assert text != mutant.source().read_text(encoding="utf-8")
    if mutant.source().suffix == ".py":
        compile(text, mutant.file, "exec")
    assert mutant.test_files()


def test_there_are_sixty_and_half_of_them_are_drawn() -> None:
    kinds = [own.kind for own in MUTANTS]
    assert len(MUTANTS) >= 60
    assert all(kinds.count(kind) >= 10 for kind in KINDS)
    assert 2 * kinds.count("drawn") >= len(MUTANTS)


def test_text_that_is_gone_or_stands_twice_is_told(tmp_path: Path) -> None:
    (tmp_path / "pipeline").mkdir()
    (tmp_path / "pipeline" / "levels.py").write_text("def a(): ...\n", encoding="utf-8")
    assert ONE.changed(tmp_path) == "class a(): ...\n"
    with pytest.raises(NotFoundError, match="stands 0 times"):
        replace(ONE, old="gone").changed(tmp_path)
    with pytest.raises(NotFoundError, match="stands 3 times"):
        replace(ONE, old=".").changed(tmp_path)
    with pytest.raises(NotFoundError, match="fits 0 files"):
        replace(ONE, file="pipeline/**/other.py").changed(tmp_path)


def test_samples_rotate_until_each_had_its_turn() -> None:
    parts = -(-len(MUTANTS) // 3)
    samples = [part_of(MUTANTS, part, 3) for part in range(parts)]
    assert sorted(own.name for sample in samples for own in sample) == sorted(
        own.name for own in MUTANTS
    )
    assert max(map(len, samples)) <= 3
    assert part_of(MUTANTS, parts, 3) == samples[0]


def project(folder: Path, tested: str) -> Path:
    """Make a project of one function and one test."""
    for name in run.COPIED:
        (folder / name).mkdir()
    (folder / "pipeline" / "__init__.py").write_text("", encoding="utf-8")
    for name in run.FILES:
        (folder / name).write_text("", encoding="utf-8")
    (folder / "pipeline" / "levels.py").write_text("def few(n):\n    return n < 10\n")
    (folder / "tests" / "test_levels.py").write_text(
        f"from pipeline.levels import few\n\ndef test_few():\n    {tested}\n"
    )
    return folder


@pytest.mark.parametrize(
    ("tested", "is_caught"),
    [("assert few(9) and not few(10)", True), ("assert few(1) and not few(99)", False)],
)
def test_a_change_is_caught_where_the_limit_itself_is_tested(
    tmp_path: Path, tested: str, is_caught: bool
) -> None:
    made = project(tmp_path, tested)
    limit = replace(ONE, old="n < 10", new="n <= 10", tests=("tests/test_levels.py",))
    with run.copied(made) as copy:
        assert run.unchanged_pass([limit], copy) == ""
        seen = run.tried(limit, copy)
        assert "n < 10" in (copy / "pipeline" / "levels.py").read_text()
    assert seen.is_caught == is_caught
    assert seen.is_as_listed == is_caught
    assert replace(seen, mutant=replace(limit, survives="known")).is_as_listed != is_caught
    assert ("test_few" in seen.by) == is_caught
    assert "n < 10" in (made / "pipeline" / "levels.py").read_text()


def test_a_change_that_never_ends_is_caught(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = project(tmp_path, "assert few(9)")
    endless = replace(
        ONE, old="return n < 10", new="while True: n += 1", tests=("tests/test_levels.py",)
    )
    monkeypatch.setattr(run, "CPU_SECONDS", 3)
    with run.copied(made) as copy:
        seen = run.tried(endless, copy)
    assert (seen.is_caught, seen.by) == (True, "too slow")


def test_tests_that_fail_anyway_are_told(tmp_path: Path) -> None:
    made = project(tmp_path, "assert few(10)")
    limit = replace(ONE, old="n < 10", new="n <= 10", tests=("tests/test_levels.py",))
    with run.copied(made) as copy:
        assert "1 failed" in run.unchanged_pass([limit], copy)


def test_the_table_is_of_these_mutants() -> None:
    text = record.FILE.read_text(encoding="utf-8")
    assert all(f"| {own.name}" in text for own in MUTANTS)
    for own in MUTANTS:
        assert (f"- {own.name}: {own.survives}" in text) == bool(own.survives)
    caught = len(MUTANTS) - sum(bool(own.survives) for own in MUTANTS)
    assert f"**{caught} of {len(MUTANTS)} are caught.**" in text
    assert caught >= 0.9 * len(MUTANTS)
    for name in ("drawn", "drawn_later"):
        assert LISTS[name].read_text(encoding="utf-8").startswith('seed = "')


def test_changes_are_drawn_by_the_tools_operators_and_tell_their_place() -> None:
    text = "def few(n):\n    return n < 10\n\n\ndef same(n):\n    return n < 10\n"
    text += "\n\ndef any(n, m):\n    return n or not m\n"
    found = {draw.lines(text, made()) for made in draw.changes(text)}
    first, other = (f"def {name}(n):\n    return n < 10\n" for name in ("few", "same"))
    wanted = {(line, line.replace("10", "11")) for line in (first, other)}
    wanted |= {(line, line.replace("<", "<=")) for line in (first, other)}
    last = "    return n or not m\n"
    wanted |= {(last, last.replace("or", "and")), (last, last.replace("not ", ""))}
    assert found == wanted


def test_a_changes_tests_are_those_of_its_name_then_those_of_importers() -> None:
    tested = {
        "pipeline.a": {
            "tests/test_z.py", "tests/test_a.py", "pipeline/b.py", "tests/truth/test_t.py",
        },
        "pipeline.b": {"tests/test_b.py"},
    }  # fmt: skip
    assert draw.tests_of("pipeline/a.py", tested) == [
        "tests/test_a.py", "tests/test_z.py", "tests/test_b.py"
    ]  # fmt: skip
    assert draw.tests_of("pipeline/c.py", tested) == []
