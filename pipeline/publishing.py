"""The stages from live parts to a published warehouse and its pages."""

import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import accounts, fixes, what_changed
from pipeline.disclosure.suppress import suppress
from pipeline.errors import RegistryError, StoreError
from pipeline.measures.catalogue import DISCLOSURE, MEASURES, SHOWN
from pipeline.measures.measure import Measure
from pipeline.settings import Settings
from pipeline.stages import SMALL_CHANGE, Job, check_space, run_record
from pipeline.store import acknowledged, counts, editions, merging, parts, recovery
from pipeline.store import ledger as ledgers
from pipeline.store.drawings import read_kept, write_kept
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion
from pipeline.store.plan import plan_rows
from pipeline.warehouse import audit, build, carry, connect, counting, measure, publish, read
from pipeline.warehouse.table_sums import Sums, Tables
from reports.kept import Kept
from reports.methods import catalogue as methods
from reports.pages import OTHER_TABLES, render
from schemas import dictionary
from schemas.version import CONTRACT_VERSION

FIX = {
    **dict.fromkeys(
        ("site_id", "table_name", "rule", "sentence", "column_name", "form", "advice", "cause",
         "fix"), pl.String,
    ),
    **dict.fromkeys(("place", "rows", "cleared", "refused"), pl.Int64),
}  # fmt: skip
# Doses of water, counted for the pages; no people.
DOSES = ("dose_reading", "dose_month")
MEASURE_NAMES = tuple(item.name for item in MEASURES)
MOST_GROWTH = 1.5
LEAST_TASK_S = 0.5
LISTS = ("quarantined_row", "refused_value")
PAGE_TABLES = (*(item.name for item in SHOWN), *OTHER_TABLES)


def refuse_unexplained(measures: Iterable[Measure]) -> None:
    """Refuse a measure that the methods page does not explain.

    Raises:
        RegistryError: naming the first such measure and its section.
    """
    for item in measures:
        if item.method not in methods.ANCHORS:
            raise RegistryError(
                f"the methods page says nothing of {item.name}",
                found=f"no section {item.method}",
                expected=", ".join(methods.ANCHORS),
                done="Nothing was counted.",
                todo="Write the section in reports/methods, or name another in the record.",
            )


refuse_unexplained(MEASURES)


def prove_parts(job: Job, used: Sequence[FileVersion]) -> None:
    """Compare the parts that a build will read with what the ledger recorded, and record them.

    Raises:
        StoreError: where one is missing or damaged.
    """
    recorded = {} if job.is_rescreen else job.before.part_hashes
    found = parts.hash_parts(job.store, used)
    if bad := parts.unsound(used, found, recorded):
        raise StoreError(
            f"parts of {len(bad)} files are missing from the store or damaged, first"
            f" {bad[0].place}",
            done="The published warehouse was not changed.",
            todo=f"Run drytally rebuild --store {job.store.folder} --rescreen EXPORTS.",
        )
    live = parts.labels_of(job.after.live())
    kept = {name: digest for name, digest in job.before.part_hashes.items() if name in live}
    job.after.part_hashes = kept | found


def can_grow(job: Job) -> bool:
    """Tell whether a small change may go into a copy of the published warehouse."""
    before = job.before
    total = sum(v.rows_read for v in job.after.live()) or 1
    size = job.store.warehouse.stat().st_size if job.store.warehouse.exists() else 0
    new = sum(item.rows_read for item in job.results.values())
    return (
        not job.is_rebuild
        and job.store.warehouse.exists()
        and bool(before.run_id)
        and "" not in job.changed
        and before.contract_version == CONTRACT_VERSION
        and before.settings_digest == job.settings.digest
        and before.as_of <= job.as_of.isoformat()
        and before.facts_digest == carry.facts_digest()
        and size <= MOST_GROWTH * before.whole_bytes
        and before.is_demo == job.is_demo
        and not job.settings.link_wearers_across_sites
        and new <= SMALL_CHANGE * total
    )


def build_warehouse(job: Job) -> None:
    """Build the next warehouse aside: whole, or the changed sites in a copy.

    Raises:
        StoreError: where the disk is too full or a part is missing.
    """
    live = job.after.live()
    due = audit.sites_due(job.store.warehouse, job.as_of) if is_day_due(job) else frozenset()
    job.changed |= due
    change = accounts.change_of(job, due) if can_grow(job) else None
    sites = None if change is None else frozenset(job.changed)
    used = [v for v in live if sites is None or not v.site_id or v.site_id in sites]
    is_removal = job.is_rebuild or job.is_rotation
    plan: list[merging.Merge] = []
    if job.changed or is_removal:
        plan = merging.planned(job.store, job.after.files, is_strict=is_removal)
    merged = [version for one in plan for part in one.parts for version in part.versions]
    prove_parts(job, [*used, *merged])
    merging.merge(job.store, plan)
    job.after.part_hashes |= parts.hash_parts(job.store, merged)
    job.after.retired = [] if is_removal else parts.retired(job.before, job.after)
    check_space(job)
    if sites is not None:
        publish.copy_published(job.store.folder, job.target)
        if recovery.digest_of(job.target) != job.before.warehouse_digest:
            raise StoreError(
                "the copy of the published warehouse differs from it",
                done="The published warehouse was not changed.",
                todo="Look at the disk; run the command again.",
            )
    given = [accounts.part_of(job.store, version) for version in live]
    job.touched = build.build_warehouse(
        job.target, given, as_of=job.as_of, settings=job.settings, sites=sites, change=change,
        plan=plan_rows(job.store),
    )  # fmt: skip
    job.is_incremental = job.touched is not None
    job.tables = Tables(unfilled=carry.filled_columns(MEASURES), earlier=_sums_before(job))
    if job.touched is not None:
        left = build.untouched(job.changed)
        job.tables.take(job.touched, left, frozenset(job.changed), job.store.warehouse)


def is_day_due(job: Job) -> bool:
    """Tell whether the day has come of a row that counted for nothing but its day."""
    due, day = job.before.due_on, job.as_of.isoformat()
    return bool(due) and job.before.as_of < due <= day and job.store.warehouse.exists()


def _sums_before(job: Job) -> dict[str, Sums]:
    """Return the sums of the published warehouse's tables, where they may be relied on."""
    told = job.before.table_digests.items() if may_take_over(job) else ()
    found = {name: Sums.read(one) for name, one in told}
    return {name: one for name, one in found.items() if one is not None}


@contextmanager
def kept_open(job: Job) -> Iterator[None]:
    """Keep the next warehouse open between the steps that fill it, and what they share."""
    # A wearer of several sites has rows that no site alone decides.
    is_closed = not (job.settings.link_wearers_across_sites or job.is_rotation)
    published = job.store.warehouse if may_take_over(job) and is_closed else None
    job.kept_counts = counts.KeptCounts(job.store, job.before.counts if published else {})
    with connect.writer(job.target) as connection:
        connect.set_variables(connection, job.as_of, job.settings)
        job.counting = counting.Counting(
            connection, job.as_of, job.settings, job.tables, job.kept_counts, published, MEASURES,
            rebuilt=frozenset(job.changed if job.touched is None else job.touched.sites),
        )  # fmt: skip
        try:
            yield
        finally:
            job.counting.close()
            job.counting = None


def run_measure(job: Job, name: str) -> int:
    """Compute one measure into the next warehouse, or take it over; returns its rows.

    One that cannot be computed leaves its table empty, and the run says so.
    """
    wanted = next(item for item in MEASURES if item.name == name)
    earlier = job.before.measures.get(name)
    given = measure.Setting(
        job.target, job.settings, job.as_of, job.run_id, job.tables,
        published=job.store.warehouse if may_take_over(job) else None,
        is_copy=job.is_incremental, counting=job.counting,
    )  # fmt: skip
    later = [item for item in MEASURE_NAMES if item not in job.measured]
    job.measured[name] = done = measure.attempt_measure(
        given, wanted, carry.Carried(*earlier) if earlier else None, later
    )
    return done.rows


def run_measures(job: Job, first: str) -> dict[str, int]:
    """Compute measures from one on, until they hold a task's worth of work; returns their rows."""
    told: dict[str, int] = {}
    start = time.perf_counter()
    for name in MEASURE_NAMES[MEASURE_NAMES.index(first) :]:
        told[name] = run_measure(job, name)
        if time.perf_counter() - start >= LEAST_TASK_S:
            break
    return told


def is_same_facts(job: Job) -> bool:
    """Tell whether the next warehouse is a copy of which no fact was changed."""
    return job.is_incremental and not job.changed


def _untouched(job: Job) -> frozenset[str]:
    """Return the tables of a proven copy that this run did not write."""
    if not is_same_facts(job):
        return frozenset()
    taken = {name for name, one in job.measured.items() if one.carried.run_id != job.run_id}
    computed = [item for item in MEASURES if item.name not in taken]
    lists = {"quarantined_row", "refused_value", "contract_rule"}
    return (build.untouched(()) | lists) - carry.filled_columns(computed).keys()


def may_take_over(job: Job) -> bool:
    """Tell whether measures of the published warehouse may stand where nothing changed."""
    before = job.before
    return (
        not job.is_rebuild
        and not job.is_rescreen
        and job.store.warehouse.exists()
        and before.contract_version == CONTRACT_VERSION
        and before.is_demo == job.is_demo
    )


def _record_measures(job: Job) -> None:
    """Keep what each measure and each fact rested on, for the next run to compare with."""
    job.after.measures = {
        name: [one.carried.inputs, one.carried.counts, one.carried.run_id]
        for name, one in job.measured.items()
        if not one.problem
    }
    # Of a table that nothing asked for, the published one's sums hold where it was not written.
    same = {
        name: one for name, one in job.tables.earlier.items()
        if job.tables.is_as_published(name.split(",")[0])
    }  # fmt: skip
    job.after.table_digests = {name: one.told() for name, one in (same | job.tables.known).items()}
    job.after.counts = _counts_of(job)
    job.after.facts_digest = carry.facts_digest()
    if job.is_incremental:
        job.after.whole_bytes = job.before.whole_bytes
    else:
        job.after.whole_bytes = job.target.stat().st_size


def _counts_of(job: Job) -> dict[str, list[str]]:
    """Return what is kept of each query: of a measure taken over, what was kept before."""
    if job.kept_counts is None:
        return {}
    known = dict(job.kept_counts.before)
    used = {
        name for item in MEASURES if item.name in job.after.measures
        for name in (*item.queries, *item.group_wide, *item.fills)
    }  # fmt: skip
    return {name: one for name, one in (known | job.kept_counts.now).items() if name in used}


def close_account(job: Job) -> int:
    """Close the row account and keep it beside the ledger; returns the rows read."""
    job.after.due_on = audit.first_due(job.target)
    job.account = accounts.close_account(job, job.target)
    return int(job.account.filter("is_live")["rows_read"].sum())


def commit(job: Job) -> None:
    """Publish: record the run, prove the file sound, write the ledger, rename."""
    rows = int(job.account.filter("is_live")["rows_read"].sum())
    audit.write_run(job.target, run_record(job, rows), job.settings)
    audit.write_measures(job.target, job.run_id, job.measured)
    if "attention_item" in job.measured:
        audit.date_items(job.target, job.store.warehouse, job.run_id)
    what_changed.write(job)
    copied_from = job.store.warehouse if job.is_incremental else None
    publish.finish(job.target, _untouched(job), copied_from)
    _record_measures(job)
    job.after.warehouse_digest = recovery.digest_of(job.target)
    ledgers.write(job.store, job.after)  # it counts once the warehouse is renamed
    publish.publish(job.target, job.store.folder)
    counts.remove_counts(job.store, job.after.counts)


def fixes_in(warehouse: Path) -> dict[str, pl.DataFrame]:
    """Return what a warehouse's refused rows and refused values need, ranked, for the pages."""

    def ask(sql: str) -> list[dict[str, Any]]:
        return read.read_summaries(warehouse, {"rows": sql})["rows"].to_dicts()

    lists = {"quarantine_summary": "quarantined_row", "refused_summary": "refused_value"}
    return {
        name: pl.DataFrame(fixes.fixes_of(ask, table), schema=FIX).drop("form", "advice")
        for name, table in lists.items()
    }


def render_pages(
    store: Store,
    settings: Settings,
    dashboards: Path,
    unfit: list[str] | None = None,
    edition: str | None = None,
) -> list[Path]:
    """Render every page of an edition from the published warehouse.

    Args:
        store: the store.
        settings: the group's settings.
        dashboards: folder of the pages.
        unfit: takes the reason of every figure that could not be drawn and gave way to it.
        edition: "inside" or "shared"; None: as set, else as the store was made.

    Raises:
        UsageError: where the folder holds pages of the other edition.
    """
    last = ledgers.read_last(store)
    chosen = editions.in_force(last, settings.edition, edition)
    editions.refuse_other(dashboards, chosen)
    frames = read.read_tables(store.warehouse, PAGE_TABLES)
    shown = frames_of(frames, chosen, settings.smallest_cell)
    if chosen == editions.INSIDE:
        shown |= _own(store, shown["attention_item"], last)
    shown |= fixes_in(store.warehouse)
    shown |= read.read_summaries(store.warehouse, {name: connect.sql(name) for name in DOSES})
    shown["dictionary"] = described()
    run = frames["refresh_run"].sort("sequence").row(-1, named=True)
    kept = Kept(read_kept(store) if edition is None else {})
    pages = render(
        shown, run | {"edition": chosen}, settings.flat(), dashboards,
        settings_changed=settings.differences(), unfit=unfit, kept=kept,
    )  # fmt: skip
    if edition is None:
        if kept.used != kept.known:
            write_kept(store, kept.used)
        last.pages_run_id = str(run["run_id"])
        ledgers.write(store, last)
    return pages


def render_published(job: Job, dashboards: Path) -> int:
    """Render the pages of what a run just published; returns how many.

    Raises:
        StoreError: where they cannot be written: the new warehouse stands all the same.
    """
    try:
        return len(render_pages(job.store, job.settings, dashboards, job.unfit))
    except OSError as error:
        raise StoreError(
            f"the pages could not be written: {error.strerror or type(error).__name__}",
            found=str(error.filename or dashboards),
            done="The new warehouse is published; some pages may still be an earlier run's.",
            todo="Mend the disk, then run drytally render --store DIR --dashboards DIR.",
        ) from error


def described() -> pl.DataFrame:
    """Return the dictionary, a measure's rows with what pages call it and where it is explained."""
    records = pl.DataFrame(
        [(item.name, item.label, item.method) for item in MEASURES],
        schema=["table_name", "label", "method"], orient="row",
    )  # fmt: skip
    rows = pl.DataFrame(dictionary.rows("facts", "measures", "audit"))
    return rows.join(records, on="table_name", how="left", maintain_order="left")


def _own(store: Store, items: pl.DataFrame, last: ledgers.Ledger) -> dict[str, pl.DataFrame]:
    """Return what only the group's own pages say: what a run changed, and what is known."""
    known = acknowledged.read_acknowledged(store)
    day = max(date.fromisoformat(last.as_of), *(one.said_on for one in known.values()), date.min)
    told = acknowledged.marked(items.to_dicts(), known, day)
    kinds = items.schema | {"acknowledged_until": pl.String(), "reason": pl.String()}
    changes = read.read_tables(store.warehouse, ("refresh_change",)) if last.sequence > 1 else {}
    return changes | {"attention_item": pl.DataFrame(told, schema=kinds)}


def frames_of(
    frames: dict[str, pl.DataFrame], edition: str, smallest_cell: int
) -> dict[str, pl.DataFrame]:
    """Return the tables as an edition shows them: all of them, or with small cells hidden."""
    return frames if edition == editions.INSIDE else suppress(frames, smallest_cell, DISCLOSURE)
