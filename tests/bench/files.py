"""Exports of a chosen shape: so many session rows in so many files of so many sites."""

import json
import shutil
from dataclasses import asdict, dataclass
from pathlib import Path

from sample_data.generate import generate
from sample_data.group import group_of

YEARS_OF_SHAPE = {100: 2.0, 2_400: 2.0, 24_000: 5.0}
SITES_OF_SHAPE = {100: 100, 2_400: 100, 24_000: 400}
LAST_YEAR, LAST_MONTH = 2026, 6
ONE_FILE_ROWS = 5_000
DAILY_SHARE = 0.005
KEPT = "made.json"


@dataclass(frozen=True)
class Shape:
    """What is measured: session rows, files they come in, sites that send them."""

    rows: int
    files: int
    sites: int

    @property
    def files_per_site(self) -> int:
        """Session files of each site."""
        return max(1, round(self.files / self.sites))


@dataclass(frozen=True)
class Made:
    """Exports as they lie on disk, and what waits for a later day.

    Attributes:
        exports: the drop folder.
        one: the newest rows of one site, by the file they come in.
        every: the newest rows of each site, by the file they come in.
        rows: session rows of `exports`, `one` and `every`.
        session_files: session files of `exports`.
        all_files: all files of `exports`.
        bytes: of the session files of `exports`.
    """

    exports: Path
    one: dict[Path, bytes]
    every: dict[Path, bytes]
    rows: tuple[int, int, int]
    session_files: int
    all_files: int
    bytes: int


def made_before(folder: Path, shape: Shape) -> Made | None:
    """Return the exports of that shape that lie in a folder, without what later days dropped."""
    kept = folder / KEPT
    if not kept.exists():
        return None
    told = json.loads(kept.read_text(encoding="utf-8"))
    if told["shape"] != asdict(shape):
        return None
    exports = folder / "exports"
    days = [
        {exports / path.relative_to(day): path.read_bytes() for path in sorted(day.rglob("*.csv"))}
        for day in (folder / "later" / "one", folder / "later" / "every")
    ]
    for path in {**days[0], **days[1]}:
        path.unlink(missing_ok=True)
    one, every = days
    return Made(exports, one, every, tuple(told["rows"]), *told["counted"])


def keep_made(folder: Path, shape: Shape, made: Made) -> None:
    """Keep beside the exports what `made_before` needs."""
    for name, files in (("one", made.one), ("every", made.every)):
        for path, data in files.items():
            place = folder / "later" / name / path.relative_to(made.exports)
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(data)
    counted = (made.session_files, made.all_files, made.bytes)
    told = {"shape": asdict(shape), "rows": made.rows, "counted": counted}
    (folder / KEPT).write_text(json.dumps(told), encoding="utf-8")


def make(folder: Path, shape: Shape) -> Made:
    """Write uncompressed exports anew; the newest rows of each site are kept for later days."""
    exports = folder / "exports"
    for old in (exports, folder / "later"):
        shutil.rmtree(old, ignore_errors=True)
    made = generate(
        exports,
        sites=group_of(shape.sites),
        years=YEARS_OF_SHAPE.get(shape.files, 2.0),
        rows=shape.rows,
        file_period="year",
        is_compressed=False,
    )
    one: dict[Path, bytes] = {}
    every: dict[Path, bytes] = {}
    held = [0, 0]
    for site in sorted(path for path in exports.iterdir() if path.name != "reference"):
        header, lines = _taken(site)
        late = max(1, round(len(lines) * DAILY_SHARE))
        every[site / "sessions_2026-08.csv"] = header + b"".join(lines[-late:])
        held[1] += late
        del lines[-late:]
        if not one:
            newest = min(ONE_FILE_ROWS, len(lines) // 2)
            one[site / "sessions_2026-07.csv"] = header + b"".join(lines[-newest:])
            held[0] += newest
            del lines[-newest:]
        _write(site, header, lines, shape.files_per_site)
    sessions = list(exports.glob("*/sessions_*.csv"))
    return Made(
        exports,
        one,
        every,
        (made - sum(held), held[0], held[1]),
        len(sessions),
        sum(path.is_file() for path in exports.rglob("*")),
        sum(path.stat().st_size for path in sessions),
    )


def drop(files: dict[Path, bytes]) -> None:
    """Write files that were kept for a later day into the drop folder."""
    for path, data in files.items():
        path.write_bytes(data)


def _taken(site: Path) -> tuple[bytes, list[bytes]]:
    """Take a site's session rows out of their files, oldest first."""
    header, lines = b"", []
    for path in sorted(site.glob("sessions_*.csv")):
        header, *rows = path.read_bytes().splitlines(keepends=True)
        lines += rows
        path.unlink()
    return header, lines


def _write(site: Path, header: bytes, lines: list[bytes], files: int) -> None:
    """Write rows as that many files of equal length, the last named by the last month."""
    files = min(files, len(lines))
    for number in range(files):
        rows = lines[len(lines) * number // files : len(lines) * (number + 1) // files]
        months = LAST_YEAR * 12 + LAST_MONTH - files + number
        name = f"sessions_{months // 12}-{months % 12 + 1:02d}.csv"
        (site / name).write_bytes(header + b"".join(rows))
