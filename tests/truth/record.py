"""The record of the last run: a table for the methods page, and worlds to run again."""

import json
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.truth.made import SEED
from tests.truth.runs import Outcome, Run, Share, from_facts, same
from tests.truth.worlds import DESIGNS, KINDS, Design

FILE = Path(__file__).parents[2] / "reports" / "simulated" / "whole_line.toml"
QUESTION = "Do the verdicts keep their promises where the truth is known, from export to verdict?"
DESIGN = (
    "Invented clinics of forty weeks, drying or cleaning only in random order within pairs of"
    " weeks; ears of a wearer share luck; each test box has its own noise, known from 70 repeat"
    " pairs alone, and drifts from week to week; problem aids beside; chambers with a dose a"
    " fortnight. {worlds} worlds from the facts onward, {line} of them also written as exports"
    " and sent through the whole line: {alike} gave the same words and numbers."
)
COMMAND = "python -m tests.truth --record"
OF = {
    "drying": "verdict on routine drying", "rate weak": "95 % interval of weak aids back to normal",
    "left out": "the copying site is out of the analysis set", "s": "the chamber that scatters",
    "d": "the chamber that drifts", "b": "the chamber with one bad newest day",
    "l": "each of the three that read 25 % low", "g": "a good chamber",
}  # fmt: skip
WORLDS_PER_KIND = 2
COUNTS = ("worlds", "through_line", "alike")


def named(share: Share) -> str:
    """Say in words what a share is of."""
    of = share.promise.of
    if of.startswith("flags "):
        return f"false flags a comparison, {_plain(of.removeprefix('flags '))}"
    if of.startswith("found "):
        return f"the bad site is found, {_plain(of.removeprefix('found '))}"
    return f"{OF[of]}: {' or '.join(map(_plain, share.promise.words))}"


def _plain(word: str) -> str:
    return word.replace("_", " ")


def told(share: Share) -> str:
    """Print a share with its Monte-Carlo limits and n."""
    low, high = share.limits
    return f"{share.share:.3f} ({low:.3f} to {high:.3f}), n = {share.n}"


def results(runs: Sequence[Run]) -> list[tuple[str, str, str]]:
    """Return (quantity, found, wanted) for every promise, then every verdict counted."""
    rows = []
    for run in runs:
        about = f"{run.design.kind}, {run.design.name}"
        for share in run.shares:
            wanted = f"{share.promise.bound} {share.promise.limit:g}"
            mark = "" if share.is_kept else "; not kept"
            rows.append((f"{about}: {named(share)}", told(share) + mark, wanted))
        if run.design.world.bad:
            rows.append(
                (f"{about}: sound sites flagged on the same outcome, a comparison",
                 f"{run.wrongly / run.worlds:.3f}, n = {run.worlds}", "told, not promised")
            )  # fmt: skip
        words = ", ".join(f"{_plain(word)} {n}" for word, n in sorted(run.words.items()))
        rows.append((f"{about}: every verdict", words, "told, not promised"))
    return rows


def write(runs: Sequence[Run]) -> None:
    """Write the record of these kinds, with two worlds of each that `--check` runs again.

    What is recorded of other kinds stays as it is.
    """
    old = tomllib.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {}
    kinds = {run.design.kind for run in runs}
    new = {"result": _results(runs), "world": _worlds(kinds), "kind": _kinds(runs)}
    told_, counts = [], []
    for kind in KINDS:
        counts += _of(new if kind in kinds else old, "kind", kind, "name")
        for table in ("result", "world"):
            for row in _of(new if kind in kinds else old, table, kind):
                told_ += ["", f"[[{table}]]", *(f"{k} = {_value(v)}" for k, v in row.items())]
    worlds, line, alike = (sum(row[name] for row in counts) for name in COUNTS)
    head = {
        "question": QUESTION, "design": DESIGN.format(worlds=worlds, line=line, alike=alike),
        "replicates": worlds, "seed": SEED, "command": COMMAND,
    }  # fmt: skip
    lines = [f"{name} = {_value(value)}" for name, value in head.items()] + told_
    for row in counts:
        lines += ["", "[[kind]]", *(f"{name} = {_value(value)}" for name, value in row.items())]
    FILE.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _of(given: dict[str, Any], table: str, kind: str, name: str = "kind") -> list[dict[str, Any]]:
    return [row for row in given.get(table, []) if row[name] == kind]


def _results(runs: Sequence[Run]) -> list[dict[str, Any]]:
    return [
        {"kind": run.design.kind, "quantity": quantity, "found": found, "wanted": wanted}
        for run in runs for quantity, found, wanted in results([run])
    ]  # fmt: skip


def _kinds(runs: Sequence[Run]) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for run in runs:
        row = found.setdefault(
            run.design.kind, {"name": run.design.kind, **dict.fromkeys(COUNTS, 0)}
        )
        for name, count in zip(COUNTS, (run.worlds, run.through_line, run.alike), strict=True):
            row[name] += count
    return list(found.values())


def _worlds(kinds: set[str]) -> list[dict[str, Any]]:
    rows = []
    for own in (design for design in chosen() if design.kind in kinds):
        for seed in range(WORLDS_PER_KIND):
            outcome = from_facts(own, seed)
            rows.append({"kind": own.kind, "name": own.name, "seed": seed,
                         "words": outcome.words, "numbers": outcome.numbers})  # fmt: skip
    return rows


def _value(value: Any) -> str:
    """Write a value as TOML: text, a number, or a table of them."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(k)} = {_value(v)}" for k, v in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)


def chosen() -> list[Design]:
    """Return the first design of each kind."""
    return [next(design for design in DESIGNS if design.kind == kind) for kind in KINDS]


def differing(kinds: Sequence[str] = KINDS) -> list[str]:
    """Run the recorded worlds again and name those that differ from the record."""
    by_name = {design.name: design for design in DESIGNS}
    kept = tomllib.loads(FILE.read_text(encoding="utf-8"))["world"]
    found = []
    for world in kept:
        if world["kind"] not in kinds:
            continue
        own = by_name.get(world["name"])
        recorded = Outcome(world["words"], world["numbers"], {})
        if own is None or not same(recorded, from_facts(own, world["seed"])):
            found.append(f"{world['kind']}, {world['name']}, world {world['seed']}")
    missing = set(kinds) - {world["kind"] for world in kept}
    return found + [f"{kind}: no world recorded" for kind in sorted(missing)]
