"""Files of random form with random mappings: no row is lost and no value silently changed.

`python -m tests.intake.test_made_files --files 10000 --seed 20261125` runs many, prints one line.
"""

import argparse
import math
import tempfile
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.screening.batch import screen_work
from pipeline.screening.reading import FileResult, Work
from pipeline.screening.screen import Screened
from tests.intake.made_files import Made, Row, make
from tests.intake.made_meaning import BAD, RESOLUTION, SITE_ZONE
from tests.intake.mapped_text import section_of

SEED, FILES = 20261125, 500
AT_ONCE, SHOWN = 125, "site-a/sessions.csv"
READING, BELOW = "moisture_ul", "is_moisture_below_detection"


def is_meant(column: str, got: Any, meant: Any) -> bool:
    """Tell whether a value is what its cell means; a converted one within half a stored step."""
    if isinstance(meant, Fraction):
        return got is not None and math.isclose(
            got, float(meant), abs_tol=RESOLUTION[column] / 2 + 1e-9, rel_tol=0
        )
    return bool(got == meant)


def row_problems(
    row: Row, got: dict[str, Any], refused: set[str], ids: dict[str, str]
) -> list[str]:
    """Compare one accepted row with what its cells mean."""
    told = []
    for column, meant in row.cells.items():
        value = got[column]
        if meant is BAD:
            good = value is None and column in refused
        elif meant == "below":
            good = value is None and got[BELOW] is True
        elif column == "started_at":
            good = (value, got["time_precision"]) == meant
        elif isinstance(meant, tuple):
            good = value is not None and ids.setdefault(meant[1], value) == value
        else:
            good = is_meant(column, value, meant) and column not in refused
        if not good:
            told.append(f"{column} is {value!r}, meant is {meant!r}")
    return told


def screen_all(files: list[Made], folder: Path) -> tuple[dict[str, FileResult], Screened]:
    """Read files of one site through the functions that `drytally check` uses, as one batch."""
    work = []
    for at, made in enumerate(files):
        path = folder / f"{at}.csv"
        path.write_bytes(made.data)
        work.append(
            Work(str(at), path, SHOWN, "site-a", "sessions", "", len(made.data),
                 section=section_of(made.mapping), corrections=made.corrections)
        )  # fmt: skip
    results, out = screen_work(work, key=bytes(32), zones={"site-a": SITE_ZONE}, link_wearers=False)
    assert out is not None
    return results, out


def problems(made: Made, result: FileResult, out: Screened, count: Counter[str]) -> list[str]:
    """Return what of one screened file is not as it must be."""
    count["files"] += 1
    if made.fault:
        count["refused"] += bool(result.refusal)
        lines = result.refusal.splitlines()
        is_told = len(lines) > 2 and lines[0].startswith(f"{SHOWN}: ")
        return [] if is_told else [f"{made.fault}: refusal is {result.refusal!r}"]
    if result.refusal:
        return [f"refused: {result.refusal}"]
    count["rows"] += result.rows_read
    count["accepted"] += result.accepted
    count["quarantined"] += result.quarantined
    count["values"] += result.values_refused
    told = []
    sound = {(row.line, row.part): row for row in made.rows if row.is_sound}
    fallen = {(row.line, row.part) for row in made.rows if not row.is_sound}
    got = {(row["line"], row["part_of_line"]): row for row in out.accepted.iter_rows(named=True)}
    listed = {(row["line"], row["part_of_line"]) for row in out.quarantined.iter_rows(named=True)
              if row["rule"] and row["line"]}  # fmt: skip
    if result.rows_read != len(made.rows) or result.accepted + result.quarantined != len(made.rows):
        told.append(f"{len(made.rows)} rows written, account {result}")
    if result.skipped_lines != made.skipped:
        told.append(f"{made.skipped} lines to skip, skipped {result.skipped_lines}")
    if set(got) != set(sound) or listed != fallen:
        told.append(f"accepted {set(got) ^ set(sound)}, quarantined {listed ^ fallen} differ")
    refused: dict[tuple[int, int], set[str]] = {}
    for row in out.refused.iter_rows(named=True):
        refused.setdefault((row["line"], row["part_of_line"]), set()).add(row["column_name"])
    ids: dict[str, str] = {}
    for at in set(got) & set(sound):
        own = row_problems(sound[at], got[at], refused.get(at, set()), ids)
        told += [f"line {at}: {problem}" for problem in own]
    if len(set(ids.values())) != len(ids):
        told.append("two aids have one pseudonym")
    return told


def run(files: int, seed: int, folder: Path) -> tuple[Counter[str], list[tuple[int, list[str]]]]:
    """Read many files; return the counts and the files that are not as they must be."""
    count: Counter[str] = Counter()
    wrong = []
    for first in range(0, files, AT_ONCE):
        made = [make(seed, number) for number in range(first, min(first + AT_ONCE, files))]
        results, out = screen_all(made, folder)
        for at, one in enumerate(made):
            own = [f.filter(pl.col("file_id") == str(at))
                   for f in (out.accepted, out.quarantined, out.refused)]  # fmt: skip
            if told := problems(one, results[str(at)], Screened(*own), count):
                wrong.append((first + at, told))
    return count, wrong


def test_every_value_is_the_one_meant_or_refused_and_listed(tmp_path: Path) -> None:
    count, wrong = run(FILES, SEED, tmp_path)
    assert wrong == []
    assert count["files"] == FILES
    assert min(count[k] for k in ("accepted", "quarantined", "values", "refused")) > 20


def test_a_wrong_meaning_is_found(tmp_path: Path) -> None:
    """The comparison itself can fail: a value changed after writing is told."""
    made = next(m for m in (make(SEED, n) for n in range(50)) if not m.fault)
    next(row for row in made.rows if row.is_sound).cells["condition_before"] = "changed"
    results, out = screen_all([made], tmp_path)
    told = problems(made, results["0"], out, Counter())
    assert "condition_before is" in " ".join(told)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--files", type=int, default=FILES)
    parser.add_argument("--seed", type=int, default=SEED)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        counted, bad = run(given.files, given.seed, Path(place))
    for at, what in bad[:10]:
        print(f"file {at}: {'; '.join(what[:4])[:600]}")
    print(
        f"seed {given.seed}: {counted['files']} files, {counted['rows']} rows read,"
        f" {counted['accepted']} accepted, {counted['quarantined']} quarantined,"
        f" {counted['values']} values refused, {counted['refused']} files refused,"
        f" {len(bad)} mismatches"
    )
