"""Which files `check` is asked about, and what lies beside them."""

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.checking.faults import work_of
from pipeline.errors import UsageError
from pipeline.intake.find import REFERENCE_FOLDER, SITE_ID, FoundFile, find_files, place_file
from pipeline.intake.mapping import MAPPING
from pipeline.intake.names import known_zones
from pipeline.screening.batch import screen_work

SITE_ROW = "site_id,site_name,latitude,longitude,elevation_m,time_zone,opened_on\n"
UNCHECKED = (
    "whether chambers and models are known", "rows that other files hold too",
    "whether the clinic was open",
)  # fmt: skip


@dataclass(frozen=True)
class Asked:
    """Files to judge, what lies beside them, and what cannot be judged from these alone."""

    files: list[FoundFile]
    context: list[FoundFile]
    unchecked: tuple[str, ...] = ()


def exports_beside(file: Path) -> Path | None:
    """Return the exports folder that a file already lies in, told by its reference tables."""
    folder = file.resolve().parent.parent
    return folder if (folder / REFERENCE_FOLDER).is_dir() else None


@contextmanager
def asked(
    files: Sequence[Path],
    exports: Path | None,
    site: str | None,
    zone: str | None,
    as_of: date,
    mapping: Path | None = None,
) -> Iterator[Asked]:
    """Find the files, and the site's other files and reference tables.

    Raises:
        UsageError: where a file is missing, or its site or time zone is not known.
    """
    for path in files:
        if not path.exists() and not path.is_symlink():
            raise UsageError(f"there is no file {path}")
    if zone is not None:
        if zone not in known_zones():
            raise UsageError(f"'{zone}' is not a time zone, such as Europe/Paris")
        if not site:
            raise UsageError("--zone needs --site")
        with _alone(files, site, zone, as_of, mapping) as alone:
            yield alone
        return
    folder = exports or exports_beside(files[0])
    if folder is None:
        raise UsageError(
            "the time zone of the file's site is not known",
            todo="Give --exports DIR, or --site ID with --zone ZONE.",
        )
    yield _beside(files, folder, site, as_of, mapping)


def _beside(
    files: Sequence[Path], exports: Path, site: str | None, as_of: date, mapping: Path | None
) -> Asked:
    listed = find_files(exports, as_of)
    at: dict[Path, list[FoundFile]] = {}
    for item in listed:
        at.setdefault(item.path.resolve(), []).append(item)
    wanted: list[FoundFile] = []
    for path in files:
        own = at.get(path.resolve())
        if mapping is None and own and not any(item.is_settings for item in own):
            wanted += own
            continue
        site_id = site or path.resolve().parent.name
        is_reference = site_id == REFERENCE_FOLDER
        folder = path.resolve().parent
        if not (folder / MAPPING).exists():
            folder = exports / site_id
        wanted += place_file(path, None if is_reference else site_id, folder, as_of, mapping)
    sites = {item.site_id for item in wanted} - {None}
    beside = [
        item for item in listed
        if not item.is_settings and (item.site_id is None or item.site_id in sites)
        and item.path.resolve() not in {path.resolve() for path in files}
    ]  # fmt: skip
    return Asked(wanted, beside)


@contextmanager
def _alone(
    files: Sequence[Path], site: str, zone: str, as_of: date, mapping: Path | None
) -> Iterator[Asked]:
    """Judge files of a site of which only the zone is known: its chambers are those they name."""
    if not SITE_ID.fullmatch(site):
        raise UsageError(
            "that is no site id", expected="letters, digits, '-' and '_', at most 40 characters"
        )
    wanted = [
        item
        for path in files
        for item in place_file(path, site, path.resolve().parent, as_of, mapping)
    ]
    with tempfile.TemporaryDirectory(prefix="drytally-check-") as made:
        reference = Path(made) / REFERENCE_FOLDER
        reference.mkdir()
        (reference / "sites.csv").write_text(
            f"{SITE_ROW}{site},{site},0,0,0,{zone},1900-01-01\n", "utf-8"
        )
        _named(wanted, {site: zone}, "dryer_id", site).write_csv(reference / "dryers.csv")
        models = _named(wanted, {site: zone}, "model_code", None)
        models.write_csv(reference / "device_models.csv")
        yield Asked(wanted, find_files(Path(made)), UNCHECKED)


def _named(
    wanted: Sequence[FoundFile], zones: dict[str, str], column: str, site: str | None
) -> pl.DataFrame:
    """Return the chambers, or models, that the files themselves name."""
    found: set[str] = set()
    receivers: set[tuple[str, str | None]] = set()
    for item in wanted:
        if item.problem or item.table_name is None:
            continue
        _, out = screen_work([work_of(item)], key=bytes(32), zones=zones, link_wearers=False)
        if out is None or column not in out.accepted.columns:
            continue
        found |= set(out.accepted[column].drop_nulls().to_list())
        if "receiver_code" in out.accepted.columns:
            pairs = out.accepted.select("model_code", "receiver_code").unique()
            receivers |= {(m or "any", r) for m, r in pairs.iter_rows() if r is not None}
    if site is not None:
        names = sorted(found) or ["only"]
        return pl.DataFrame({"site_id": [site] * len(names), "dryer_id": names})
    rows = sorted(receivers | {(name, None) for name in found}, key=str)
    return pl.DataFrame(
        rows, schema={"model_code": pl.String, "receiver_code": pl.String}, orient="row"
    )
