"""The lists of mutants and the table of what became of them."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from tests.mutants.mutant import KINDS, ROOT, Mutant
from tests.mutants.run import Seen

FILE = ROOT / "docs" / "mutants.md"
TITLES = {
    "threshold": "Thresholds: just inside and just outside",
    "join": "Joins: two sites with the same local ids",
    "guard": "Guards: erasure, disclosure, the day as of which",
    "drawn": "Drawn by a general tool",
}
HEAD = """# Do the tests notice?

Each line is one small change of the code, made in a copy of the project, with the tests that
should notice. Written by `python -m tests.mutants --record`; the changes stand in
`tests/mutants/` (`written.toml`, `drawn.toml`, `drawn_later.toml`). The drawn ones come from the
operators of mutmut (numbers, comparisons, signs, and/or, branches) on the code of statistics,
measures, screening, disclosure and erasure, at random from a seed that is the commit's own number,
in two draws. `.ci/run` tries a few each day, others every day.
"""


def write(seen: Sequence[Seen], file: Path = FILE) -> None:
    """Write the table."""
    caught = sum(own.is_caught for own in seen)
    lines = [HEAD, f"**{caught} of {len(seen)} are caught.**", ""]
    lines += ["| kind | changes | caught |", "|---|---|---|"]
    for kind in KINDS:
        own = [one for one in seen if one.mutant.kind == kind]
        lines.append(f"| {kind} | {len(own)} | {sum(one.is_caught for one in own)} |")
    if left := [own for own in seen if not own.is_caught]:
        lines += ["", "## Survivors", ""]
        lines += [f"- {one.mutant.name}: {one.mutant.survives or 'unexplained'}" for one in left]
    for kind in KINDS:
        lines += ["", f"## {TITLES[kind]}", "", "| change | noticed by |", "|---|---|"]
        lines += [
            f"| {one.mutant.name}{_change(one.mutant)} | {one.by if one.is_caught else 'no test'} |"
            for one in seen if one.mutant.kind == kind
        ]  # fmt: skip
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _change(mutant: Mutant) -> str:
    if mutant.kind != "drawn":
        return ""
    first = next(
        (pair for pair in zip(mutant.old.splitlines(), mutant.new.splitlines(), strict=False)
         if pair[0] != pair[1]), ("", ""),
    )  # fmt: skip
    before, after = (line.strip().replace("|", "\\|") for line in first)
    return f": `{before}` → `{after}`"


def write_list(file: Path, rows: Sequence[Mapping[str, object]], seed: str) -> None:
    """Write a list of drawn mutants."""
    lines = [f'seed = "{seed}"  # the first digits of the commit that it was drawn from']
    for row in rows:
        lines += ["", "[[mutant]]"]
        lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in row.items()]
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
