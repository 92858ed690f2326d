"""The record of the last run: a table for the methods page, and worlds to run again."""

import json
import tomllib
from collections.abc import Sequence
from pathlib import Path

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
    """Write the record, with two worlds of each kind that `--check` runs again."""
    worlds, line = sum(run.worlds for run in runs), sum(run.through_line for run in runs)
    design = DESIGN.format(worlds=worlds, line=line, alike=sum(run.alike for run in runs))
    lines = [
        f"question = {json.dumps(QUESTION, ensure_ascii=False)}",
        f"design = {json.dumps(design, ensure_ascii=False)}",
        f"replicates = {worlds}", f"seed = {SEED}", f"command = {json.dumps(COMMAND)}",
    ]  # fmt: skip
    for quantity, found, wanted in results(runs):
        lines += ["", "[[result]]"] + [
            f"{name} = {json.dumps(text, ensure_ascii=False)}"
            for name, text in (("quantity", quantity), ("found", found), ("wanted", wanted))
        ]
    for own in chosen():
        for seed in range(WORLDS_PER_KIND):
            outcome = from_facts(own, seed)
            lines += [
                "", "[[world]]", f"kind = {json.dumps(own.kind)}",
                f"name = {json.dumps(own.name, ensure_ascii=False)}", f"seed = {seed}",
                f"words = {_table(outcome.words)}", f"numbers = {_table(outcome.numbers)}",
            ]  # fmt: skip
    FILE.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _table(values: dict[str, str] | dict[str, float]) -> str:
    return "{ " + ", ".join(f"{json.dumps(k)} = {json.dumps(v)}" for k, v in values.items()) + " }"


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
