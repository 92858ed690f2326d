"""One small group's exports as a list of arrivals; invented, as are all names and numbers in it.

What a night can bring is among them: a file sent again with other rows, one sent late, rows of one
session in two files, a copy under another name, corrections, a chamber's log, reference tables that
lack a chamber at first, a site with another site's local ids, an export of the last months that
repeats rows, bad values, bad rows and a file that cannot be read.
"""

import csv
import io
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sample_data.generate import generate
from sample_data.group import group_of

AS_OF = "2026-07-01"
TWIN, LOGGED, ROLLING = "site-09", "site-02", "site-03"
LOG_COLUMNS = (
    "cycle_programme", "cycle_minutes", "ended_by", "moisture_ul", "chamber_pressure_min_kpa_abs",
    "chamber_temp_max_c",
)  # fmt: skip
Rows = list[dict[str, str]]


@dataclass(frozen=True)
class Arrival:
    """A file as it comes to lie in the drop folder.

    Attributes:
        name: its path below the exports.
        data: its bytes; None: it is taken away again.
        after: names that come before it, whatever the order: which of several files that tell the
            same row counts is by contract a matter of which came first.
    """

    name: str
    data: bytes | None
    after: tuple[str, ...] = ()

    def drop(self, exports: Path) -> None:
        file = exports / self.name
        file.parent.mkdir(parents=True, exist_ok=True)
        if self.data is None:
            file.unlink()
        else:
            file.write_bytes(self.data)


@dataclass(frozen=True)
class Made:
    """Exports and how they came.

    Attributes:
        first: what lies there when the first run starts: tables that every file needs.
        later: all that arrives; of one name in this order, else in any.
    """

    first: tuple[Arrival, ...]
    later: tuple[Arrival, ...]

    def last(self) -> list[Arrival]:
        """Return the last version of each file, also of one taken away: it still counts."""
        files = {one.name: one for one in (*self.first, *self.later) if one.data is not None}
        return list(files.values())

    def eve(self) -> tuple[list[Arrival], list[Arrival]]:
        """Return all that came before a last small night, and that night: a month and a fix."""
        new = f"{ROLLING}/sessions_2026-05.csv"
        fixed = [one for one in self.later if one.name == f"{ROLLING}/sessions_2026-02.csv"][-1:]
        late = [one for one in self.later if one.name == new]
        assert len(fixed) == len(late) == 1
        kept = [one for one in (*self.first, *self.later) if one not in (*fixed, *late)]
        return kept, [*fixed, *late]

    def nights(self, count: int, rng: random.Random) -> list[list[Arrival]]:
        """Spread the arrivals over so many nights, in a random order that keeps what must be."""
        order: list[Arrival] = []
        waiting = list(self.later)
        came = {one.name for one in self.first}
        while waiting:
            able = [at for at, one in enumerate(waiting) if may_come(one, waiting[:at], came)]
            one = waiting.pop(rng.choice(able))
            # The last version of a name is what others wait for.
            if all(other.name != one.name for other in waiting):
                came.add(one.name)
            order.append(one)
        cuts = sorted(rng.sample(range(1, len(order)), count - 1))
        nights = [order[a:b] for a, b in zip([0, *cuts], [*cuts, len(order)], strict=True)]
        # A night sees a name once: another version of it would never have been read.
        return [night for whole in nights for night in once_each(whole)]


def may_come(one: Arrival, earlier: Sequence[Arrival], came: set[str]) -> bool:
    """Tell whether a file may come next: its earlier versions came, and what it is to follow."""
    return all(other.name != one.name for other in earlier) and set(one.after) <= came


def once_each(night: Iterable[Arrival]) -> list[list[Arrival]]:
    """Cut a night in two wherever a name comes again."""
    out: list[list[Arrival]] = [[]]
    for one in night:
        if any(other.name == one.name for other in out[-1]):
            out.append([])
        out[-1].append(one)
    return out


def written(rows: Rows) -> bytes:
    """Return rows as a CSV file."""
    out = io.StringIO(newline="")
    columns = list(dict.fromkeys(name for row in rows for name in row))
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def make(folder: Path, *, rows: int = 360, is_rolling: bool = False, seed: int = 1) -> Made:
    """Make the group.

    Args:
        folder: an empty folder to generate in.
        rows: session rows of three sites; the fourth has two thirds of the first one's.
        is_rolling: a site exports its last months again and again under one name. What such
            versions hold together no single run can see.
        seed: of the generator.
    """
    generate(
        folder, seed=seed, sites=group_of(3), years=0.5, rows=rows, file_period="month",
        is_compressed=False,
    )  # fmt: skip
    files = {
        path.relative_to(folder).as_posix(): rows_of(path) for path in sorted(folder.rglob("*.csv"))
    }
    files |= twin_of(files)
    first = references(files)
    later = [*logged(files), *sent_again(files), *told_twice(files), *bad(files), *corrected(files)]
    if is_rolling:
        later += rolled(files)
    known = {one.name for one in (*first, *later)}
    later += [Arrival(name, written(own)) for name, own in files.items() if name not in known]
    return Made(tuple(first), tuple(later))


def rows_of(file: Path) -> Rows:
    return list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"), newline="")))


def sessions_of(files: dict[str, Rows], site: str) -> list[str]:
    return [name for name in files if name.startswith(f"{site}/sessions_")]


def twin_of(files: dict[str, Rows]) -> dict[str, Rows]:
    """Return another site with the first one's ids of aids, wearers, sessions and chambers."""
    found: dict[str, Rows] = {}
    for name, own in files.items():
        if name.startswith("site-01/"):
            kept = [dict(row) for at, row in enumerate(own) if at % 3]
            values = [row.get("moisture_ul", "") for row in kept if row.get("moisture_ul")]
            for row in kept:
                if row.get("moisture_ul"):
                    row["moisture_ul"] = values.pop()
            if kept:
                found[f"{TWIN}/{name.partition('/')[2]}"] = kept
    return found


def references(files: dict[str, Rows]) -> list[Arrival]:
    """Return the tables that are there from the start, the chambers without one of them."""
    for name in ("sites", "climate_normals", "dryers"):
        own = files[f"reference/{name}.csv"]
        own += [row | {"site_id": TWIN} for row in own if row["site_id"] == "site-01"]
    files["reference/sites.csv"][-1]["site_name"] = "Bay Road"
    chambers = files["reference/dryers.csv"]
    lacking = [row for row in chambers if row["dryer_id"] != "D03-2"]
    assert len(lacking) < len(chambers)
    first = [Arrival("reference/dryers.csv", written(lacking))]
    first += [
        Arrival(name, written(own)) for name, own in files.items()
        if name.startswith("reference/") and name != "reference/dryers.csv"
    ]  # fmt: skip
    return first


def logged(files: dict[str, Rows]) -> list[Arrival]:
    """Return a site's chamber logs, and its sessions without what the logs tell."""
    later = [Arrival("reference/dryers.csv", written(files["reference/dryers.csv"]))]
    for name in sessions_of(files, LOGGED):
        runs: dict[tuple[str, str], dict[str, str]] = {}
        for at, row in enumerate(files[name]):
            if row["treatment"] == "dried":
                told = {column: row.get(column, "") for column in LOG_COLUMNS}
                key = row["dryer_id"], row["started_at"]
                runs[key] = {"dryer_id": key[0], "started_at": key[1]} | told
                runs[key]["match_window_minutes"] = "3"
            files[name][at] = row | dict.fromkeys((c for c in LOG_COLUMNS if c in row), "")
        own = list(runs.values())[1:]  # a run of which the log is silent
        if own:
            own.append(own[-1] | {"started_at": own[-1]["started_at"][:10] + "T21:30"})
            period = name.rpartition("_")[2]
            later.append(Arrival(f"{LOGGED}/chamber_runs_{period}", written(own)))
    return later


def sent_again(files: dict[str, Rows]) -> list[Arrival]:
    """Return a file that came with errors and fewer rows first, and one that was taken away."""
    name = sessions_of(files, "site-03")[2]
    right = files[name]
    wrong = [dict(row) for row in right[: len(right) - 2]]
    wrong[0]["condition_after"], wrong[1]["device_style"] = "dead", "no such style"
    wrong[2]["started_at"] = wrong[2]["started_at"][:10] + "T25:00"
    gone = sessions_of(files, "site-03")[1]
    return [
        Arrival(name, written(wrong)), Arrival(name, written(right)),
        Arrival(gone, written(files[gone])), Arrival(gone, None),
    ]  # fmt: skip


def told_twice(files: dict[str, Rows]) -> list[Arrival]:
    """Return rows that lie in two files, alike and otherwise, and a file under a second name."""
    name = sessions_of(files, "site-01")[4]
    again = [dict(row) for row in files[name][:4]]
    again[0]["condition_before"] = "weak" if again[0]["condition_before"] != "weak" else "dead"
    copy = sessions_of(files, "site-01")[3]
    return [
        Arrival("site-01/sessions_2026-07.csv", written(again), after=(name,)),
        Arrival("site-01/sessions_2026-08.csv", written(files[copy]), after=(copy,)),
    ]


def bad(files: dict[str, Rows]) -> list[Arrival]:
    """Return bad rows, bad values, a day to come, and a file that is no table."""
    name = sessions_of(files, TWIN)[3]
    own = files[name]
    own[0]["device_style"] = "no such style"
    own[1]["chamber_temp_max_c"] = "999"
    own[2]["dryer_id"] = "D77"
    own[3]["started_at"] = "2026-08-02T10:00"
    own.append(dict(own[4]))
    return [Arrival(f"{TWIN}/sessions_broken.csv", b"\x00\x01 no table")]


def corrected(files: dict[str, Rows]) -> list[Arrival]:
    """Return a site's reviewed fixes: of one row, of none."""
    row = files[sessions_of(files, "site-01")[2]][0]
    told = {"reason": "slip of the pen", "decided_by": "audiologist", "value": "weak"}
    fixes = [
        {"match": f"started_at={moment}; device_id={row['device_id']}",
         "column": "condition_after"} | told
        for moment in (row["started_at"], "2026-02-27T03:00")
    ]  # fmt: skip
    return [Arrival("site-01/corrections.csv", written(fixes))]


def rolled(files: dict[str, Rows]) -> list[Arrival]:
    """Return a site's checks as three exports of its last months under one name."""
    names = [name for name in files if name.startswith(f"{ROLLING}/dose_checks_")]
    checks = [row for name in names for row in files.pop(name)]
    third = len(checks) // 3
    name, out = f"{ROLLING}/dose_checks.csv", []
    for start, end in ((0, 2 * third), (third // 2, len(checks) - third // 2), (third, None)):
        own = [dict(row) for row in checks[start:end]]
        own[1]["reading_ul"] = str(round(float(own[1]["reading_ul"]) + 0.01 * start, 2))
        out.append(Arrival(name, written(own), after=(f"{ROLLING}/mapping.toml",)))
    return [Arrival(f"{ROLLING}/mapping.toml", b'[dose_checks]\nexport = "rolling"\n'), *out]
