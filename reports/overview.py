"""What the overview page says: facts of the load, findings, what needs attention."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames
from reports.figures import account, chamber_rows, corrections, quality_checks
from schemas.chambers import told

FINDINGS = (
    "rescue-by-condition", "routine-verdict", "compared-dead", "compared-weak",
    "repairs-avoided", "chamber-use", "dose-checks", "moisture-by-season",
)  # fmt: skip
MOST_ITEMS = 12


@dataclass(frozen=True)
class Fact:
    """A number of the load and its words."""

    words: str
    value: str


@dataclass(frozen=True)
class Finding:
    """A figure's computed title and where it stands."""

    page: str
    id: str
    title: str
    question: str


@dataclass(frozen=True)
class Attention:
    """Something to do, with the place that says more."""

    words: str
    page: str
    anchor: str
    link: str


def facts(frames: Frames) -> list[Fact]:
    """Sum the row account and name the months covered."""
    files = account.per_file(frames)
    if files.is_empty():
        return [Fact("Files read", "0")]
    loaded = files.filter(~pl.col("status").is_in(["refused", "held", "copy"]))
    sums = {name: rates.sum_of(files, name) for name in
            ("rows_read", "accepted", "quarantined", "duplicate", "values_refused")}  # fmt: skip
    found = [
        Fact("Sites", words.count(rates.table(frames, "site").height)),
        Fact("Files loaded, of files read",
             f"{words.count(loaded.height)} of {words.count(files.height)}"),
        Fact("Rows read", words.count(sums["rows_read"])),
        Fact("Rows accepted", words.count(sums["accepted"])),
        Fact("Rows refused", words.count(sums["quarantined"])),
        Fact("Duplicate rows", words.count(sums["duplicate"])),
        Fact("Values refused alone", words.count(sums["values_refused"])),
    ]  # fmt: skip
    covered = rates.period(frames).lstrip(", ")
    return [*found, Fact("Months with sessions", covered)] if covered else found


def findings(figures: Sequence[tuple[str, Figure]]) -> list[Finding]:
    """Pick the overview's figures by id, each once, in the declared order."""
    by_id: dict[str, Finding] = {}
    for page, figure in figures:
        by_id.setdefault(figure.id, Finding(page, figure.id, figure.title.text, figure.question))
    return [by_id[id_] for id_ in FINDINGS if id_ in by_id]


def attention(frames: Frames) -> list[Attention]:
    """List files, silent sites, chambers, checks and corrections that want something done."""
    return [
        *_files(frames), *_silent(frames), *_chambers(frames), *_checks(frames),
        *_corrections(frames),
    ]  # fmt: skip


def _files(frames: Frames) -> list[Attention]:
    files = account.per_file(frames)
    if files.is_empty():
        return []
    out = files.filter(pl.col("status").is_in(["refused", "held", "kept"]))
    items = [
        Attention(
            f"{row['site']}: {row['label']} is {words.label(row['status'])}.",
            "quality", "row-account", "the row account",
        )
        for row in out.head(MOST_ITEMS).to_dicts()
    ]  # fmt: skip
    if out.height > MOST_ITEMS:
        more = words.plural(out.height - MOST_ITEMS, "further file")
        items.append(Attention(f"{more} refused, held or kept.", "quality", "row-account",
                               "the row account"))  # fmt: skip
    return items


def _silent(frames: Frames) -> list[Attention]:
    use = rates.table(frames, "utilisation")
    if use.is_empty():
        return []
    names = rates.site_names(frames)
    running = use.filter(pl.col("runs") > 0)
    if running.is_empty():
        return []
    newest = running["month"].max()
    last = running.group_by("site_id").agg(pl.col("month").max()).filter(pl.col("month") < newest)
    rows = sorted((names.get(site, site), month) for site, month in last.rows())
    return [
        Attention(f"{name}: nothing since {words.month(month)}.", "quality", "calendar",
                  "the calendar")
        for name, month in rows[:MOST_ITEMS]
    ]  # fmt: skip


def _chambers(frames: Frames) -> list[Attention]:
    chambers = chamber_rows.chambers(frames)
    if chambers.is_empty():
        return []
    bad = [
        (row, word)
        for row in chamber_rows.in_use(chambers).to_dicts()
        for word in told(row["standing"], row["pump"])
    ]
    items = [
        Attention(
            f"Chamber {row['dryer_id']}, {row['site']}: {word.label[:1].lower()}{word.label[1:]}. "
            f"{word.advice}",
            "chambers", "dose-checks", "the dose checks",
        )
        for row, word in bad[:MOST_ITEMS]
    ]  # fmt: skip
    if len(bad) > MOST_ITEMS:
        more = words.plural(len(bad) - MOST_ITEMS, "further item on a chamber",
                            "further items on chambers")  # fmt: skip
        items.append(Attention(f"{more}.", "chambers", "dose-checks", "the dose checks"))
    return items


def _corrections(frames: Frames) -> list[Attention]:
    frame = corrections.by_column(frames)
    if frame.is_empty():
        return []
    left = pl.col("corrections") - pl.col("applied")
    sites = frame.group_by("site", maintain_order=True).agg(left.sum().alias("left"))
    return [
        Attention(
            f"{row['site']}: {words.plural(row['left'], 'correction')} not applied. Give columns "
            "that tell exactly one row.",
            "quality", "corrections", "the corrections",
        )
        for row in sites.filter(pl.col("left") > 0).to_dicts()[:MOST_ITEMS]
    ]  # fmt: skip


def _checks(frames: Frames) -> list[Attention]:
    over = quality_checks.over(frames)
    if over.is_empty():
        return []
    by_check = (
        over.group_by("check")
        .agg(
            pl.len().alias("sites"),
            pl.col("threshold").max(),
            pl.col("advice").sort(nulls_last=True).first(),
        )
        .sort("sites", "check", descending=[True, False])
        .head(5)
    )
    return [
        Attention(
            f"{row['check']}{'' if row['threshold'] == 0 else ', more often than tolerated'}, "
            f"at {words.plural(row['sites'], 'site')}."
            + (f" {row['advice']}" if row["advice"] else ""),
            "quality", "quality-checks", "the checks",
        )
        for row in by_check.to_dicts()
    ]  # fmt: skip
