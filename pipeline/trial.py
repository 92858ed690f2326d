"""A refresh on trial: the same stages on the same context, in a folder that is then removed.

`check` and `map` judge files so: screened, settled and put to the set rules beside the site's
other files and the reference tables, as the next refresh would. Nothing is measured or published.
"""

import secrets
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import accounts, stages
from pipeline.intake.find import FoundFile
from pipeline.screening.reading import FileResult
from pipeline.settings import Settings
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion, Ledger
from pipeline.warehouse import build, part_source
from pipeline.warehouse.read import read_summaries

LISTS = {
    "quarantined": "SELECT file_id, line, part_of_line, rule, sentence, column_name, found,"
    " advice FROM quarantined_row ORDER BY ALL",
    "refused": "SELECT file_id, line, part_of_line, rule, sentence, column_name, found,"
    " advice FROM refused_value ORDER BY ALL",
    "chambers": "SELECT site_id, dryer_id FROM dryer ORDER BY ALL",
    "classes": "SELECT site_id, run_class, count(*) AS runs FROM chamber_run GROUP BY ALL",
    "models": "SELECT DISTINCT model_code FROM device_model ORDER BY ALL",
}


@dataclass(frozen=True)
class TrialStore(Store):
    """A store of its own that reads what a real one has screened, and never writes to it."""

    base: Store | None = None

    def parts(self) -> set[str]:
        """Every part that is there, of the real store too."""
        return super().parts() | (self.base.parts() if self.base is not None else set())

    def part(self, kind: str, name: str) -> Path:
        """A part of the real store where it is there, else one of the trial's own."""
        if self.base is not None and self.base.part(kind, name).exists():
            return self.base.part(kind, name)
        return super().part(kind, name)


@dataclass(frozen=True)
class Judged:
    """What a refresh would make of one file.

    Attributes:
        item: the file as it was found.
        version: its version, with status, message and what screening counted.
        account: its row of the row account; empty where the file is refused or held.
        quarantined: its rows that would not count: line, part_of_line, rule, sentence,
            column_name, found, advice; duplicates are among them.
        refused: its values that would be set to null, in the same columns.
    """

    item: FoundFile
    version: FileVersion
    account: dict[str, Any]
    quarantined: pl.DataFrame
    refused: pl.DataFrame


@dataclass(frozen=True)
class Trial:
    """Every file judged, and what the trial's warehouse knows of the site.

    Attributes:
        files: the files asked for, in their order.
        warehouse: the trial's warehouse; it is gone once the trial ends.
        chambers: listed chambers: site_id, dryer_id.
        models: listed models.
        zones: time zone by site.
        results: what screening found, by file id.
        parts: every live file of the trial; gone once it ends.
        classes: runs of the log: site_id, run_class, runs.
    """

    files: list[Judged]
    warehouse: Path | None
    chambers: pl.DataFrame
    models: list[str]
    zones: dict[str, str]
    results: dict[str, FileResult]
    parts: list[part_source.LivePart]
    classes: pl.DataFrame


@contextmanager
def trial(
    asked: Sequence[FoundFile],
    context: Sequence[FoundFile],
    *,
    as_of: date,
    settings: Settings | None = None,
    base: Store | None = None,
    before: Ledger | None = None,
    key: bytes | None = None,
) -> Iterator[Trial]:
    """Judge files as the next refresh would, beside the other files of their site.

    Args:
        asked: the files to judge.
        context: reference tables and the site's other files; a file of an asked one's place
            gives way to it.
        as_of: the day by which "in the future" is judged.
        settings: the group's settings.
        base, before, key: a real store, its ledger and its key, whose screened parts then count;
            none of it is changed. Without them every file is screened under a throw-away key.

    Raises:
        DrytallyError: where no usable table of sites is there.
    """
    places = {item.place for item in asked}
    found = [*asked, *(item for item in context if item.place not in places)]
    found.sort(key=lambda f: (f.site_id is not None, f.site_id or "", f.place))
    with tempfile.TemporaryDirectory(prefix="drytally-check-") as folder:
        store = TrialStore(Path(folder), base)
        store.prepare()
        key = key or secrets.token_bytes(32)
        job = stages.Job(store, settings or Settings(), as_of, before or Ledger(), key, found=found)
        stages.choose_sites(job)
        stages.choose_files(job)
        for number in range(len(job.batches)):
            stages.screen_files(job, number)
        stages.settle_versions(job)
        yield _judged(job, asked)


def _judged(job: stages.Job, asked: Sequence[FoundFile]) -> Trial:
    live = job.after.live()
    parts = [accounts.part_of(job.store, version) for version in live]
    build.build_warehouse(job.target, parts, as_of=job.as_of, settings=job.settings)
    account = accounts.close_account(job, job.target)
    lists = read_summaries(job.target, LISTS)
    by_id = {row["file_id"]: row for row in account.iter_rows(named=True)}
    newest = {version.place: version for version in job.after.files}
    fresh = {version.place: version.file_id for version in job.fresh}
    files = []
    for item in asked:
        own = fresh.get(item.place)
        version = next((v for v in job.after.files if v.file_id == own), newest[item.place])
        rows = [lists[name].filter(pl.col("file_id") == own) for name in ("quarantined", "refused")]
        files.append(Judged(item, version, by_id.get(version.file_id, {}), *rows))
    models = lists["models"]["model_code"].to_list()
    return Trial(
        files,
        job.target,
        lists["chambers"],
        models,
        job.zones,
        job.results,
        parts,
        lists["classes"],
    )
