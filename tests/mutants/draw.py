"""Draw mutants by the operators of a general tool, from a seed that the commit fixes."""

import ast
import random
import subprocess
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import cast

from libcst import Module, parse_module
from libcst.metadata import MetadataWrapper
from mutmut.mutation import mutators
from mutmut.mutation.file_mutation import Mutation, MutationVisitor
from mutmut.mutation.pragma_handling import IgnoredCode

from tests.mutants.mutant import ROOT

DRAWN_FROM = (
    "pipeline/statistics/*.py", "pipeline/disclosure/*.py", "pipeline/measures/*/*.py",
    "pipeline/screening/*.py", "pipeline/removal.py",
)  # fmt: skip
# Not drawn: texts (mostly the words of errors), arguments taken away, assignments of nothing.
OPERATORS = (
    mutators.operator_number, mutators.operator_name, mutators.operator_remove_unary_ops,
    mutators.operator_keywords, mutators.operator_swap_op, mutators.operator_if_exp,
    mutators.operator_augmented_assignment, mutators.operator_match,
)  # fmt: skip
MOST_TEST_FILES = 3
NOT_RUN = ("simulation", "browser", "truth", "bench", "mutants")


def seed_of_commit(root: Path = ROOT) -> str:
    """Return the first eight hexadecimal digits of the commit: nobody chose them."""
    return subprocess.run(
        ["git", "rev-parse", "--short=8", "HEAD"], cwd=root, capture_output=True, text=True,
        check=True,
    ).stdout.strip()  # fmt: skip


def drawn(seed: str, number: int, root: Path = ROOT, first: int = 1) -> list[dict[str, object]]:
    """Draw mutants of the code as it is, numbered from `first`; code and seed fix which.

    Every change of every file that a test imports, near or far, has the same chance.
    """
    rng = random.Random(seed)
    tested = importers(root)
    every = []
    for path in sorted(path for pattern in DRAWN_FROM for path in root.glob(pattern)):
        name = path.relative_to(root).as_posix()
        if path.name != "__init__.py" and (tests := tests_of(name, tested)):
            text = path.read_text(encoding="utf-8")
            every += [(path, tests, text, own) for own in changes(text)]
    return [
        {
            "name": f"drawn {at:02}: {path.stem}", "kind": "drawn",
            "file": f"pipeline/**/{path.parent.name}/{path.name}",
            **dict(zip(("old", "new"), lines(text, change()), strict=True)), "tests": tests,
        }
        for at, (path, tests, text, change) in enumerate(rng.sample(every, number), start=first)
    ]  # fmt: skip


def changes(text: str) -> list[Callable[[], str]]:
    """Return for every change that the operators make the text with it, made when asked for."""
    operators = [(kind, own) for kind, own in mutators.mutation_operators if own in OPERATORS]
    visitor = MutationVisitor(operators, IgnoredCode(set(), set(), set()))
    module = MetadataWrapper(parse_module(text)).visit(visitor)

    def made(own: Mutation) -> str:
        return cast("Module", module.deep_replace(own.original_node, own.mutated_node)).code

    return [partial(made, own) for own in visitor.mutations]


def lines(text: str, changed: str) -> tuple[str, str]:
    """Return the lines that change, as few as tell the place, and what they become."""
    before, after = text.splitlines(keepends=True), changed.splitlines(keepends=True)
    start = next(at for at, (a, b) in enumerate(zip(before, after, strict=False)) if a != b)
    stop = 0
    while before[-1 - stop] == after[-1 - stop] and stop < min(len(before), len(after)) - start - 1:
        stop += 1
    while text.count("".join(before[start : len(before) - stop])) > 1:
        start -= 1
    return "".join(before[start : len(before) - stop]), "".join(after[start : len(after) - stop])


def importers(root: Path = ROOT) -> dict[str, set[str]]:
    """Return by module of the project the files that import it, code and tests."""
    found: dict[str, set[str]] = {}
    for top in ("pipeline", "tests"):
        for path in (root / top).rglob("*.py"):
            for name in _imported(ast.parse(path.read_text(encoding="utf-8"))):
                found.setdefault(name, set()).add(path.relative_to(root).as_posix())
    return found


def _imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (own.name for own in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{own.name}" for own in node.names)


def tests_of(name: str, tested: dict[str, set[str]]) -> list[str]:
    """Name the tests that should notice a change of a file: those of its name, then importers'."""
    stem = Path(name).stem
    same = {path for paths in tested.values() for path in paths
            if Path(path).name == f"test_{stem}.py"}  # fmt: skip
    near = tested.get(_module(name), set())
    far = {path for own in near for path in tested.get(_module(own), set())}
    ordered = [*sorted(same), *sorted(near - same), *sorted(far - near - same)]
    kept = [path for path in dict.fromkeys(ordered) if _is_test(path)]
    return kept[:MOST_TEST_FILES]


def _module(path: str) -> str:
    return path.removesuffix(".py").replace("/", ".")


def _is_test(path: str) -> bool:
    own = Path(path)
    return own.name.startswith("test_") and not set(own.parts) & set(NOT_RUN)
