"""What was measured, kept as numbers, and docs/scale.md made of it: table, targets, picture."""

import json
import os
import platform
from collections import defaultdict
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from tests.bench.lines import LOADED
from tests.bench.plot import picture

ROOT = Path(__file__).parents[2]
KEPT = Path(__file__).with_name("recorded.json")
PAGE, PICTURE = ROOT / "docs" / "scale.md", ROOT / "docs" / "scale.svg"
NAMES = {
    "read_bytes": "read and hash the files",
    "duckdb_text": "DuckDB: declared text, CSV to table",
    "duckdb_typed": "DuckDB: the same, typed",
    "polars_parse": "polars: files joined by header, parsed",
    "polars_duckdb": "polars: joined, parsed, inserted in DuckDB",
    "pandas_script": "peer: pandas and statsmodels, a fraction",
    "refresh": "refresh: rules, tables, measures",
    "render": "render: all pages",
    "same_day": "same day, nothing new",
    "next_day": "next day, nothing new, with pages",
    "one_file": "next day, one file, with pages",
    "every_site": "next day, every site sends, with pages",
    "query": "query: one sum",
    "help": "help",
}
LOADING = ("choose", "screen", "build", "publish")
# Ratio, limit for many small files, limit for few large ones.
TARGETS = (("load ÷ floor", "load", 3.5, 5.0), ("pages ÷ floor", "pages", 7.0, 9.0))
Took = dict[str, Any]


def machine() -> dict[str, Any]:
    """Describe the machine and the libraries, never its name."""
    model = "unknown"
    info = Path("/proc/cpuinfo")
    if info.exists():
        found = [line for line in info.read_text().splitlines() if line.startswith("model name")]
        model = found[0].split(":", 1)[1].strip() if found else model
    pages = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return {
        "processor": model,
        "cores": os.cpu_count(),
        "memory_gib": round(pages / 1024**3),
        "python": platform.python_version(),
        **{name: version(name) for name in ("duckdb", "polars", "pandera", "pandas")},
    }


def told(name: str, took: Took) -> str:
    """Say one line: CPU and wall seconds, memory, rows."""
    rows = f"{took['rows']:>12,}" if took["rows"] is not None else f"{'':>12}"
    spread = f"  ± {took['spread']:.0%} of {took['runs']}" if took["runs"] > 1 else ""
    return (
        f"  {NAMES[name]:<44} {took['cpu_s']:>9.2f} CPU s {took['wall_s']:>9.2f} s"
        f" {took['peak_mb']:>7,} MB {rows} rows{spread}"
    )


def floor_of(result: Took) -> float:
    """Return the CPU seconds of the cheapest line that ends with every row in a DuckDB table."""
    return min(float(result["lines"][name]["cpu_s"]) for name in LOADED)


def of_floor(result: Took) -> dict[str, float]:
    """Return load and pages as multiples of the floor.

    load: the whole process of a first refresh less its measures; pages: refresh and render.
    """
    whole = result["lines"]["refresh"]["cpu_s"]
    load = whole - result["stages"]["refresh"].get("measure", 0.0)
    floor = floor_of(result)
    return {"load": load / floor, "pages": (whole + result["lines"]["render"]["cpu_s"]) / floor}


def ratios(result: Took) -> str:
    """Say load and pages of the floor, each with its target, and the peer."""
    found, is_small = of_floor(result), result["files"] > result["sites"]
    said = [
        f"{name} {found[key]:.1f} (target {small if is_small else large})"
        for name, key, small, large in TARGETS
    ]
    ours = result["lines"]["refresh"]
    if peer := result["lines"].get("pandas_script"):
        said.append(
            f"refresh ÷ peer, wall {ours['wall_s'] / peer['wall_s']:.1f},"
            f" memory {ours['peak_mb'] / peer['peak_mb']:.1f}"
        )
    return "  " + "; ".join(said)


def exponents(results: Sequence[Took]) -> dict[tuple[int, int], dict[str, float]]:
    """Return, by shape and sites, the exponent of each stage's CPU time in the number of rows."""
    groups: dict[tuple[int, int], list[Took]] = defaultdict(list)
    for result in results:
        groups[result["files"], result["sites"]].append(result)
    return {
        key: {
            stage: _slope(
                [r["rows"] for r in own], [_stages(r)[stage] for r in own]
            )
            for stage in _stages(own[0])
        }
        for key, own in groups.items()
        if len({r["rows"] for r in own}) > 1
    }  # fmt: skip


def _stages(result: Took) -> dict[str, float]:
    own = result["stages"]["refresh"]
    return {**own, "render": result["lines"]["render"]["cpu_s"], "floor": floor_of(result)}


def _slope(rows: Sequence[int], seconds: Sequence[float]) -> float:
    return float(np.polyfit(np.log(rows), np.log(np.maximum(seconds, 0.01)), 1)[0])


def growth(results: Sequence[Took]) -> str:
    """Say how each stage grows with the rows: 1 is in proportion."""
    lines = []
    for (files, sites), found in exponents(results).items():
        told_ = ", ".join(f"{stage} {value:.2f}" for stage, value in found.items())
        lines.append(f"growth with rows, {files:,} files of {sites} sites: {told_}")
    return "\n".join(lines)


def recorded() -> list[Took]:
    """Return what is recorded, smallest first."""
    if not KEPT.exists():
        return []
    found: list[Took] = json.loads(KEPT.read_text(encoding="utf-8"))
    return found


def keep(result: Took) -> None:
    """Record a result in place of an earlier one of the same shape, and write the page."""
    key = ("files", "sites", "rows")
    others = [r for r in recorded() if any(r[name] != result[name] for name in key)]
    results = sorted([*others, result], key=lambda r: tuple(r[name] for name in key))
    KEPT.write_text(json.dumps(results, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    write()


def write() -> None:
    """Write docs/scale.md and its picture from what is recorded."""
    PAGE.write_text(page(recorded()), encoding="utf-8")
    PICTURE.write_text(picture(points(recorded())), encoding="utf-8")


def stale() -> list[str]:
    """Name the files that differ from what is recorded."""
    made = {PAGE: page(recorded()), PICTURE: picture(points(recorded()))}
    return [
        str(path.relative_to(ROOT))
        for path, text in made.items()
        if not path.exists() or path.read_text(encoding="utf-8") != text
    ]


def points(results: Sequence[Took]) -> dict[str, list[tuple[float, float]]]:
    """Return rows and CPU seconds by what was done, at the shape with most sizes recorded."""
    by_shape: dict[tuple[int, int], list[Took]] = defaultdict(list)
    for result in results:
        by_shape[result["files"], result["sites"]].append(result)
    own = max(by_shape.values(), key=len, default=[])
    lines: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for result in own:
        took = result["lines"]
        lines["floor"].append((result["rows"], floor_of(result)))
        if "pandas_script" in took:
            lines["peer"].append((result["rows"], took["pandas_script"]["cpu_s"]))
        lines["first refresh"].append((result["rows"], took["refresh"]["cpu_s"]))
        lines["next day, one file"].append((result["rows"], took["one_file"]["cpu_s"]))
        lines["next day, nothing new"].append((result["rows"], took["next_day"]["cpu_s"]))
    return dict(lines)


def page(results: Sequence[Took]) -> str:
    """Return docs/scale.md."""
    text = (Path(__file__).with_name("scale.md.txt")).read_text(encoding="utf-8")
    return text.format(
        tables="\n".join(_table(result) for result in results) or "Nothing is recorded yet.\n",
        growth=growth(results) or "One size alone is recorded: no exponent yet.",
    )


def _table(result: Took) -> str:
    made = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in
                     sorted(result["machine"].items()) if name != "processor")  # fmt: skip
    floor = floor_of(result)
    rows = [
        f"| {NAMES[name]} | {took['cpu_s']:.2f} | {took['cpu_s'] / floor:.2f} |"
        f" {took['wall_s']:.2f} | {took['peak_mb']:,} |"
        for name, took in result["lines"].items()
    ]
    parts = _stages(result)
    stages = ", ".join(f"{name} {value:.1f}" for name, value in parts.items() if name in {
        *LOADING, "measure"})  # fmt: skip
    sizes = [size for size in result["pages"].values() if size]
    largest = f" Largest page {max(sizes) / 1e6:.1f} MB." if sizes else ""
    return (
        f"### {result['rows']:,} rows, {result['session_files']:,} session files,"
        f" {result['sites']} sites\n\n"
        f"{result['all_files']:,} files with the other tables, {result['bytes'] / 1e6:,.0f} MB of"
        f" sessions. {result['machine']['processor']}; {made}.\n\n"
        "| line | CPU s | of the floor | wall s | peak MB |\n|---|---|---|---|---|\n"
        + "\n".join(rows)
        + f"\n\nFirst refresh by stage, CPU s: {stages}.{largest}{_targets(result)}\n"
    )


def _targets(result: Took) -> str:
    found: Mapping[str, float] = of_floor(result)
    is_small = result["files"] > result["sites"]
    said = []
    for name, key, small, large in TARGETS:
        limit = small if is_small else large
        missed = f"missed by {found[key] / limit:.1f} times" if found[key] > limit else "met"
        said.append(f"{name} {found[key]:.1f} (target {limit:g}: {missed})")
    return " " + "; ".join(said) + "."
