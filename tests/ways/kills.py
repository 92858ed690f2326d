"""A run that ends at a change of a file, killed or on a full disk, and that the next makes good.

Python tells of each file that is opened, renamed or removed before it is (`sys.addaudithook`): a
child counts those within the store and the folder of pages, and ends at the one asked for. What the
database writes by itself is not told: there the child ends at the start of a function.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from pipeline.store import ledger, parts
from pipeline.store.layout import Store
from tests.ways import ways
from tests.ways.made import Made
from tests.ways.ways import Place

FEW = "dryer_calibration,measurement_repeatability"
ROOT = Path(__file__).parents[2]
NO_LIMIT = 10_000
# Stages in which the database writes, or that are between two changes of a file.
PLACES = (
    "pipeline.stages.choose_sites", "pipeline.store.merging.merge",
    "pipeline.warehouse.publish.copy_published", "pipeline.warehouse.build._load_sessions",
    "pipeline.warehouse.build._list_rows", "pipeline.warehouse.account.close_account",
    "pipeline.warehouse.measure.take_over", "pipeline.warehouse.measure.create",
    "pipeline.warehouse.audit.write_run", "pipeline.what_changed.write",
    "pipeline.warehouse.publish.finish", "pipeline.warehouse.publish.scan",
    "pipeline.warehouse.publish.publish", "pipeline.publishing.render_pages",
    "pipeline.publishing.write_kept",
)  # fmt: skip
# For each line of its standard input a child that refreshes and ends as the line says; imports
# take seconds. Small parts are merged, changes go into a copy, a page is a few words.
PROGRAM = r"""
import errno, importlib, os, signal, sys
import pipeline.flows, reports.pages
from pipeline import publishing, what_changed
from pipeline.commands.main import main
from pipeline.store import merging
from pipeline.warehouse import account, audit
import pipeline.checking.after_refresh, pipeline.accounts
merging.MOST_TAILS = 1
publishing.SMALL_CHANGE, publishing.MOST_GROWTH = 1.0, 100.0
reports.pages.page_texts = lambda frames, run, *_, **__: {
    name: f'<meta name="drytally-edition" content="inside"><p>{run["run_id"]}</p>'
    for name in ("a.html", "at-site-01.html", "index.html")
}
reports.pages.staff_texts = lambda *_: {"index.html": "<p>sheet</p>"}
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
CHANGES = ("os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.chmod", "shutil.rmtree")
within = tuple(sys.argv[1].split(os.pathsep))
measures, given = sys.argv[2], sys.argv[3:]
if measures != "all":
    publishing.MEASURE_NAMES = tuple(measures.split(","))
    publishing.PAGE_TABLES = (*publishing.MEASURE_NAMES, *publishing.OTHER_TABLES)
    publishing._own = lambda *_: {}
    publishing.frames_of = lambda frames, *_: frames | {"attention_item": None}
seen = 0

def end_at(how, last):
    def hook(event, args):
        global seen
        is_new = event == "open" and bool(args[2] & WRITES) or event == "os.mkdir"
        if not (is_new or event in CHANGES) or not isinstance(args[0], str | bytes | os.PathLike):
            return
        name = os.path.abspath(os.fsdecode(args[0]))
        if not name.startswith(within) or name.endswith((".lock", ".log")):
            return
        seen += 1
        if how == "kill" and seen == last:
            os.kill(os.getpid(), signal.SIGKILL)
        if how == "full" and seen >= last and is_new:
            raise OSError(errno.ENOSPC, "No space left on device", name)
        if how == "fails" and seen == last:
            raise OSError(errno.EIO, "Input/output error", name)
    sys.addaudithook(hook)

def die(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)

for line in sys.stdin:
    how, at = line.split()
    child = os.fork()
    if child == 0:
        if how == "place":
            module, _, name = at.rpartition(".")
            holder = importlib.import_module(module)
            assert hasattr(holder, name), at
            setattr(holder, name, die)
        else:
            end_at(how, int(at))
        code = main(given)
        with open(os.path.dirname(within[0]) + "-seen.txt", "w", encoding="ascii") as out:
            out.write(str(seen))
        os._exit(code)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


class Runs:
    """Children that refresh a place and end as they are told."""

    def __init__(self, place: Place, measures: str = FEW) -> None:
        self.place = place
        given = place.arguments("--dashboards", str(place.dashboards), "--quiet")
        within = os.pathsep.join(map(str, (place.store, place.dashboards, beside(place))))
        self.error = aside(place, "error.txt").open("w+", encoding="utf-8")
        self.process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, within, measures, *given], cwd=ROOT, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self.error,
        )  # fmt: skip

    def one(self, how: str, at: str | int = NO_LIMIT) -> tuple[int, str]:
        """Run once; return its exit code, and what it said on standard error."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        start = self.error.tell()
        print(how, at, file=self.process.stdin, flush=True)
        out = ""
        while not out.lstrip("-").strip().isdigit():  # notes of the run come first
            out = self.process.stdout.readline()
            assert out, self.said(0)
        return int(out), self.said(start)

    def said(self, start: int) -> str:
        self.error.seek(start)
        return self.error.read()

    @property
    def seen(self) -> int:
        """Changes of files that the last whole run made."""
        return int(aside(self.place, "seen.txt").read_text())

    def end(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(60)
        self.process.stdout.close()
        self.error.close()


def aside(place: Place, name: str) -> Path:
    """Return a file beside the folder of a place, which may be made anew."""
    return place.store.parent.with_name(f"{place.store.parent.name}-{name}")


def beside(place: Place) -> Path:
    return place.dashboards.with_name(f".{place.dashboards.name}.next")


def leftovers(place: Place) -> list[str]:
    """Name what lies in a store, or beside the pages, that its last ledger does not account for."""
    store = Store(place.store)
    last = ledger.read_last(store)
    due = parts.needed(last) | set(last.retired)
    wanted = {
        "warehouse.duckdb", "drawings.json.z", "refresh.lock", "log/drytally.log",
        *(f"parts/{label}.parquet" for label in due),
        *(f"counts/{name}.parquet" for *_, name in last.counts.values() if name),
    }  # fmt: skip
    there = {
        path.relative_to(place.store).as_posix()
        for path in place.store.rglob("*") if path.is_file() and path.suffix != ".json"
    }  # fmt: skip
    odd = there ^ wanted
    odd |= {path.name for path in place.store.glob("*/*.json") if path.parent != store.ledger}
    if beside(place).exists():
        odd.add(beside(place).name)
    return sorted(odd)


def pages(place: Place) -> dict[str, str]:
    return {
        path.relative_to(place.dashboards).as_posix(): path.read_text("utf-8")
        for path in place.dashboards.rglob("*.html")
    }  # fmt: skip


def content(place: Place) -> dict[str, object]:
    """Return what a ledger says of parts, tables and measures, without runs and times."""
    said = place.ledger()
    files = [
        {name: value for name, value in row.items() if name != "first_seen_run"}
        for row in said["files"]  # type: ignore[attr-defined]
    ]
    return {
        "files": files,
        "measures": {n: m[:2] for n, m in said["measures"].items()},  # type: ignore[attr-defined]
    } | {
        name: said[name]
        for name in ("part_hashes", "table_digests", "sequence", "retired", "due_on", "as_of")
    }


class Fault:
    """One night of a made group, and what it gives where nothing goes wrong.

    Attributes:
        night: the place where it runs, again and again.
        own: what runs there.
        old, new: its tables before the night and after.
        changes: of files, in a night that ends well.
    """

    def __init__(self, folder: Path, made: Made, measures: str = FEW) -> None:
        self.night, self.before = Place(folder / "night"), folder / "before"
        earlier, late = made.eve()
        self.night.drop(earlier)
        self.own = Runs(self.night, measures)
        self.ends_well()
        self.old = self.night.digests()
        self.night.drop(late)
        shutil.copytree(folder / "night", self.before)
        self.ends_well()
        self.changes = self.own.seen
        self.new = self.night.digests()
        assert self.new != self.old
        self.told, self.pages = content(self.night), pages(self.night).keys()
        self.ends_well()  # it clears up what the run merged
        assert leftovers(self.night) == []

    def ends_well(self) -> None:
        code, said = self.own.one("none")
        assert code in {0, 3}, said

    def start(self) -> None:
        """Have all lie there as the night begins."""
        folder = self.night.store.parent
        shutil.rmtree(folder)
        shutil.copytree(self.before, folder)

    def held(self) -> None:
        """Hold that what is published is the old or the new warehouse, whole."""
        found = self.night.digests()
        assert found in (self.old, self.new), ways.differing(found, self.old)

    def made_good(self) -> None:
        """Hold that the next run ends well, as if nothing had been, and leaves nothing over."""
        self.ends_well()
        assert ways.differing(self.night.digests(), self.new) == []
        assert content(self.night) == self.told
        run = self.night.ledger()["run_id"]
        assert self.night.ledger()["pages_run_id"] == run
        texts = pages(self.night)
        assert texts.keys() == self.pages
        assert f"<p>{run}</p>" in texts["index.html"]
        self.ends_well()  # it clears up what the run merged
        assert leftovers(self.night) == []


def sweep(fault: Fault, how: str, every: int = 1) -> list[str]:
    """End the night at each change of a file, or every so many; say what is not made good."""
    wrong = []
    ends: list[tuple[str, str | int]] = [(how, n) for n in range(1, fault.changes + 1, every)]
    ends += [("place", name) for name in PLACES] if how == "kill" else []
    for kind, at in ends:
        fault.start()
        code, said = fault.own.one(kind, at)
        try:
            if how == "kill":
                assert code == -9, code
            else:
                told_plainly(code, said)
            fault.held()
            fault.made_good()
        except (Exception, AssertionError) as error:
            wrong.append(f"{kind} {at}: {type(error).__name__} {error}\n{said[-600:]}")
    return wrong


def told_plainly(code: int, said: str) -> None:
    """Hold that a fault of the disk is told in plain words."""
    if code in {0, 3}:  # nothing that counts needed the file
        return
    assert code == 1, code
    assert said.startswith("drytally: "), said
    assert "Traceback" not in said and "defect" not in said, said
