"""The stages of a refresh, each a function on one job: what flows.py puts in order."""

import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cache
from importlib.metadata import version as package_version
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import removal, versions
from pipeline.errors import DrytallyError, FileRefusedError, MappingError, StoreError
from pipeline.intake.changes import file_id, hash_file, intake_fingerprint, known_hash, stamps
from pipeline.intake.corrections import Correction, read_corrections
from pipeline.intake.find import FoundFile
from pipeline.intake.key import fingerprint
from pipeline.intake.mapping_check import check_section
from pipeline.intake.names import usable_zones
from pipeline.intake.test_boxes import Boxes, boxes_of
from pipeline.intake.test_boxes import digest_of as boxes_digest
from pipeline.screening.batch import gather
from pipeline.screening.order import Order, fulfil, together
from pipeline.screening.reading import FileResult, Work, model_of
from pipeline.settings import Settings
from pipeline.store import editions
from pipeline.store.erased import ErasedList
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion, Ledger
from pipeline.store.part_rows import rows_in
from pipeline.store.parts import is_there, path_of
from pipeline.store.plan import plan_digest
from schemas.exports.catalogue import EXPORTS, columns_of
from schemas.version import CONTRACT_VERSION

SMALL_CHANGE = 0.05
SITES = "sites"


@dataclass
class Job:
    """Everything one refresh knows; stages fill it from top to bottom."""

    store: Store
    settings: Settings
    as_of: date
    before: Ledger
    key: bytes
    found: Sequence[FoundFile] = ()
    accept_shrink: frozenset[str] = frozenset()
    is_demo: bool = False
    run_id: str = ""
    sequence: int = 0
    started_at: datetime = field(default_factory=lambda: datetime.now(UTC))
    zones: dict[str, str] = field(default_factory=dict)
    batches: list[list[Work]] = field(default_factory=list)
    results: dict[str, FileResult] = field(default_factory=dict)
    fresh: list[FileVersion] = field(default_factory=list)
    after: Ledger = field(default_factory=Ledger)
    changed: set[str] = field(default_factory=set)
    is_rebuild: bool = False
    is_rescreen: bool = False
    is_incremental: bool = False
    touched: Any = None
    seconds: dict[str, float] = field(default_factory=dict)
    cpu_seconds: dict[str, float] = field(default_factory=dict)
    tables: Any = None
    counting: Any = None
    kept_counts: Any = None
    measured: dict[str, Any] = field(default_factory=dict)
    unfit: list[str] = field(default_factory=list)
    changes: list[dict[str, Any]] = field(default_factory=list)
    account: pl.DataFrame = field(default_factory=pl.DataFrame)
    boxes: Boxes = frozenset()
    erased: ErasedList = field(default_factory=ErasedList)
    is_rotation: bool = False

    def __post_init__(self) -> None:
        self.sequence = self.before.sequence + 1
        stamp = self.started_at.strftime("%Y%m%dT%H%M%SZ")
        self.run_id = f"{self.sequence:06d}-{stamp}"

    @property
    def target(self) -> Path:
        """The warehouse this run builds aside."""
        return self.store.next_warehouse(self.run_id)

    def order(self, number: int, batches: Sequence[Sequence[Work]]) -> Order:
        """Return all that screening these batches takes, but for the key."""
        return Order(
            number,
            tuple(tuple(batch) for batch in batches),
            self.store,
            zones=self.zones,
            link_wearers=self.settings.link_wearers_across_sites,
            overwrite=self.is_rescreen,
            erased=self.erased.hashes,
            boxes=self.boxes,
            key_fingerprint=fingerprint(self.key),
            is_demo=self.is_demo,
            run_id=self.run_id,
            code_version=package_version("drytally"),
        )


def choose_sites(job: Job) -> None:
    """Find the live table of sites first: other files need its time zones.

    Raises:
        DrytallyError: where no usable table of sites is there.
    """
    job.boxes = boxes_of(job.found)
    own = [item for item in job.found if item.table_name == SITES and not item.problem]
    _choose(job, own)
    keep(job, fulfil(job.order(0, gather(_work(job))), job.key))
    live = [v for v in _settled(job, job.fresh) if v.table_name == SITES and v.is_live]
    found = [(path_of(job.store, "validated", v), v.file_id) for v in live]
    frames = [rows_in(part, [file_id], ["site_id", "time_zone"]) for part, file_id in found if part]
    if not frames:
        told = next((r.refusal for r in job.results.values() if r.refusal), "")
        raise DrytallyError(
            "there is no usable table of sites (reference/sites.csv)",
            found=told or "no such file, or no sound row in it",
            expected="one row a site with its id, name, place, height and time zone",
            done="Nothing was loaded.",
            todo="Add reference/sites.csv to the exports folder; see the README.",
        )
    job.zones = usable_zones(pl.concat(frames).select("site_id", "time_zone").iter_rows())


def choose_files(job: Job) -> None:
    """Decide which file versions need screening, and gather them into batches."""
    screened = set(job.results)
    others = [i for i in job.found if not (i.table_name == SITES and not i.problem)]
    _choose(job, others)
    job.batches = gather([item for item in _work(job) if item.file_id not in screened])


def _rename_shown(job: Job, found: Sequence[FoundFile]) -> None:
    """Give versions stored under a hashed name the name that their pattern shows now."""
    known = {version.place: version for version in job.before.files}
    for item in found:
        former = item.former_place
        if former == item.place or item.place in known:
            continue
        for version in job.before.files:
            if version.place == former:
                version.file, version.logical_name = item.shown, item.logical_name
                version.member = item.member_name or None


def _choose(job: Job, found: Sequence[FoundFile]) -> None:
    _rename_shown(job, found)
    newest = {version.place: version for version in job.before.files}
    marks = fingerprint(job.key), job.settings.link_wearers_across_sites
    forgotten = removal.forgotten_ids(job.before)
    for item in found:
        if item.is_settings:
            continue
        zone = job.zones.get(item.site_id or "")
        texts = item.site_texts + boxes_digest(job.boxes, item.site_id)
        mark = intake_fingerprint(zone, *marks, texts)
        problem = item.problem or _mapping_problem(item)
        if not problem and item.site_id is not None and zone is None:
            problem = (
                f"site '{item.site_id}' is not in reference/sites, or its time zone is unknown"
            )
        digest = "" if item.problem else known_hash(item, job.before, newest) or ""
        try:
            digest = digest or (
                "" if item.problem else hash_file(item.path, item.member, item.place)
            )
        except OSError as error:
            problem = f"it cannot be opened ({error.strerror})"
        except FileRefusedError as error:
            problem = str(error).removeprefix(f"{item.place}: ")
        fresh = FileVersion(
            file_id=file_id(item.place, digest),
            file=item.shown,
            member=item.member_name or None,
            site_id=item.site_id,
            logical_name=item.logical_name,
            table_name=item.table_name or "",
            sha256=digest,
            bytes=item.bytes,
            export=item.section.export if item.section else "period",
            fingerprint=mark,
            first_seen_run=job.run_id,
            first_seen_sequence=job.sequence,
        )
        if problem:
            fresh.status, fresh.is_live = "refused", False
            fresh.message = f"{item.place}: {problem}"
        removal.mark_forgotten(fresh, forgotten)
        job.fresh.append(fresh)


def _mapping_problem(item: FoundFile) -> str:
    """Return what is wrong with the part of the mapping that a file falls under."""
    if item.section is None:
        return ""
    try:
        check_section(item.section, columns_of(model_of(item.section.table)))
        _corrections_of(item)
    except MappingError as error:
        return str(error)
    return ""


def _corrections_of(item: FoundFile) -> tuple[Correction, ...]:
    if item.folder is None or item.section is None or item.site_id is None:
        return ()
    found = read_corrections(item.folder, item.site_id, _export_columns())
    return tuple(one for one in found if one.table == item.section.table)


@cache
def _export_columns() -> dict[str, list[str]]:
    return {name: [spec.name for spec in columns_of(model)] for name, model in EXPORTS.items()}


def _known(job: Job) -> dict[tuple[str, str], FileVersion]:
    if job.is_rescreen:
        return {}
    there = job.store.parts()
    return {
        (v.file_id, v.fingerprint): v
        for v in job.before.files
        if v.status not in {"refused", "forgotten"} and is_there(v, there)
    }


def _work(job: Job) -> list[Work]:
    known = _known(job)
    found = {item.place: item for item in job.found}
    return [
        Work(
            file_id=fresh.file_id,
            path=found[fresh.place].path,
            member=found[fresh.place].member,
            section=found[fresh.place].section,
            corrections=_corrections_of(found[fresh.place]),
            shown=fresh.place,
            site_id=fresh.site_id,
            table_name=fresh.table_name,
            sha256=fresh.sha256,
            bytes=fresh.bytes,
        )
        for fresh in job.fresh
        if not fresh.message and (fresh.file_id, fresh.fingerprint) not in known
    ]


def choose(job: Job) -> int:
    """Choose sites and files; returns the files to screen."""
    choose_sites(job)
    choose_files(job)
    return sum(len(batch) for batch in job.batches)


def orders_of(job: Job) -> list[Order]:
    """Return what is to be screened, in groups that are worth a task each."""
    return [job.order(number, group) for number, group in enumerate(together(job.batches))]


def keep(job: Job, results: dict[str, FileResult]) -> None:
    """Keep what the screening of an order found."""
    job.results |= results


def screen_files(job: Job, number: int) -> int:
    """Screen one batch by its number; returns the rows read."""
    keep(job, fulfil(job.order(number, [job.batches[number]]), job.key))
    return sum(job.results[item.file_id].rows_read for item in job.batches[number])


def settle_versions(job: Job) -> None:
    """Decide which versions are live: replaced, kept, held, copied or refused."""
    settled = _settled(job, job.fresh)
    if job.is_rotation:
        removal.refuse_stale_parts(job.before, settled)
    job.after = Ledger(
        run_id=job.run_id,
        sequence=job.sequence,
        as_of=job.as_of.isoformat(),
        contract_version=CONTRACT_VERSION,
        settings_digest=job.settings.digest,
        plan_digest=plan_digest(job.store),
        code_version=package_version("drytally"),
        key_fingerprint=fingerprint(job.key),
        is_demo=job.is_demo,
        files=settled,
        erased_digest=job.erased.digest,
        edition=editions.of_next(job.before),
        seen=stamps(job.found) if job.found else job.before.seen,
    )
    live_before = {(v.file_id, v.fingerprint): v.site_id or "" for v in job.before.live()}
    live_after = {(v.file_id, v.fingerprint): v.site_id or "" for v in settled if v.is_live}
    gone_or_new = live_before.keys() ^ live_after.keys()
    job.changed = {(live_before | live_after)[key] for key in gone_or_new}


def _settled(job: Job, fresh: Sequence[FileVersion]) -> list[FileVersion]:
    known = _known(job)
    current = {version.place: version for version in fresh}
    old = [FileVersion(**vars(v)) for v in job.before.files]
    kept = [v for v in old if v.place not in current or v.file_id != current[v.place].file_id]
    live = {v.place: v for v in kept if v.is_live}
    settled = list(kept)
    by_id: dict[str, FileVersion] = {}
    for version in old:
        by_id.setdefault(version.file_id, version)
    out: dict[str, list[FileVersion]] = {}
    for version in kept:
        if version.status in {"refused", "held"}:
            out.setdefault(version.place, []).append(version)
    for version in fresh:
        new = FileVersion(**vars(version))
        earlier = known.get((new.file_id, new.fingerprint))
        same_bytes = by_id.get(new.file_id)
        if same_bytes is not None and same_bytes.status != "refused":
            new.first_seen_run = same_bytes.first_seen_run
            new.first_seen_sequence = same_bytes.first_seen_sequence
        if earlier is not None:
            versions.copy_account(earlier, new)
        else:
            versions.take_account(job.results.get(new.file_id), new)
        if new.status == "refused" and same_bytes is not None and same_bytes.is_live:
            # The mapping changed so that the same bytes are refused: what was read before stays.
            same_bytes.status, same_bytes.message = "kept", new.message
            settled.append(same_bytes)
            continue
        shrinks = new.place in job.accept_shrink
        versions.replace(new, live.get(new.place), accept_shrink=shrinks)
        versions.count_withdrawn(job.store, new, live.get(new.place))
        for past in out.get(new.place, ()):
            if past.status in {"refused", "held"}:
                past.status, past.superseded_by = "superseded", new.file_id
        settled.append(new)
    if job.found:
        versions.drop_gone(kept, {item.place for item in job.found})
    return versions.copies_marked(settled)


def check_space(job: Job) -> None:
    """Refuse to start a build that the disk has no room for.

    Raises:
        StoreError: where less is free than the build may need.
    """
    size = job.store.warehouse.stat().st_size if job.store.warehouse.exists() else 0
    paths = {path_of(job.store, "validated", version) for version in job.after.live()} - {None}
    parts = sum(path.stat().st_size for path in paths if path)
    needed = 2 * max(size, 3 * parts) + 50 * 1024**2
    status = os.statvfs(job.store.folder)
    free = status.f_bavail * status.f_frsize
    if free < needed:
        raise StoreError(
            f"no space: needs about {needed // 1024**2} MB, {free // 1024**2} MB free",
            done="The published warehouse was not changed.",
            todo="Make room on the store's disk and run the command again.",
        )


def run_record(job: Job, rows: int) -> dict[str, object]:
    """Return what the warehouse keeps of this run."""
    return {
        "run_id": job.run_id,
        "sequence": job.sequence,
        "started_at_utc": job.started_at,
        "as_of": job.as_of,
        "code_version": job.after.code_version,
        "contract_version": CONTRACT_VERSION,
        "settings_hash": job.settings.digest,
        "rows": rows,
        "is_demo": job.is_demo,
        "platform": f"Python {platform.python_version()}",
        "seconds": {name: round(value, 3) for name, value in job.seconds.items()},
    }
